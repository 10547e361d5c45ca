/** The program's grid laid on itself another way: turned by quarter turns, or shifted by whole lines. */

import type { ImageMap } from './image-map.js';
import type { ProgramGrid } from './program-grid.js';

export interface Turn {
  readonly map: ImageMap;
  readonly rotationDeg: 0 | 90 | 180 | 270;
}

/** Lines of the turned grid fall within this share of the pitch on lines of the other. */
const SAME_PLACE = 0.12;

/** Quarter turns under which the grid lines of the program fall on themselves, the present one first. */
export function listTurns(map: ImageMap, grid: ProgramGrid): Turn[] {
  const x0 = grid.xs[0];
  const y0 = grid.ys[0];
  const x1 = grid.xs[grid.xs.length - 1];
  const y1 = grid.ys[grid.ys.length - 1];
  const stretch = (y1 - y0) / (x1 - x0);
  const turns: Turn[] = [{ map, rotationDeg: 0 }];
  const falls = (from: Float64Array, to: Float64Array, at: (p: number) => number) =>
    from.length === to.length &&
    from.every((p) => {
      const target = at(p);
      const pitch = (to[to.length - 1] - to[0]) / (to.length - 1);
      return to.some((q) => Math.abs(q - target) < SAME_PLACE * pitch);
    });
  const xFromY = (y: number) => x0 + (y1 - y) / stretch;
  const yFromX = (x: number) => y0 + (x - x0) * stretch;
  if (falls(grid.ys, grid.xs, xFromY) && falls(grid.xs, grid.ys, yFromX)) {
    turns.push({
      map: compose(map, [0, -1 / stretch, x0 + y1 / stretch, stretch, 0, y0 - x0 * stretch]),
      rotationDeg: 90,
    });
  }
  if (falls(grid.xs, grid.xs, (x) => x0 + x1 - x) && falls(grid.ys, grid.ys, (y) => y0 + y1 - y)) {
    turns.push({ map: compose(map, [-1, 0, x0 + x1, 0, -1, y0 + y1]), rotationDeg: 180 });
  }
  if (
    falls(grid.ys, grid.xs, (y) => x0 + (y - y0) / stretch) &&
    falls(grid.xs, grid.ys, (x) => y1 - (x - x0) * stretch)
  ) {
    turns.push({
      map: compose(map, [0, 1 / stretch, x0 - y0 / stretch, -stretch, 0, y1 + x0 * stretch]),
      rotationDeg: 270,
    });
  }
  return turns;
}

/** The placement with every line where the one `i` further along X and `j` along Y was. */
export function shiftedMap(map: ImageMap, grid: ProgramGrid, i: number, j: number): ImageMap {
  return compose(map, [1, 0, i * grid.pitchMm[0], 0, 1, j * grid.pitchMm[1]]);
}

/** The map after an affine move of the commanded frame, [a b c; d e f]. */
export function compose(map: ImageMap, move: readonly number[]): ImageMap {
  const h = map.homography;
  const [a, b, c, d, e, f] = move;
  const homography = new Float64Array(9);
  for (let r = 0; r < 9; r += 3) {
    homography[r] = h[r] * a + h[r + 1] * d;
    homography[r + 1] = h[r] * b + h[r + 1] * e;
    homography[r + 2] = h[r] * c + h[r + 1] * f + h[r + 2];
  }
  return { ...map, homography };
}
