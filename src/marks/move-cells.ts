/** From the cells of a lattice to those of the program that it was found to be a part of. */

import type { Stroke } from '../../shared/stroke.js';
import type { CellView } from './board-texture.js';
import type { QuarterTurns } from './cell-contents.js';
import { imageFromCommanded } from './image-map.js';
import { evenCore } from './placement-turns.js';
import { describeGrid } from './program-grid.js';
import type { StatedCrossing } from './stated-crossing.js';

/** Program cells = lattice cells turned back by the quarter turns, then moved. */
export interface CellMove {
  readonly turns: QuarterTurns;
  readonly shift: readonly [number, number];
}

/** [x, y] of the lattice → program cells. */
export function moveCell(
  { turns, shift }: CellMove,
  [a, b]: readonly [number, number],
): [number, number] {
  const [x, y] = turnBack(a, b, turns);
  return [x + shift[0], y + shift[1]];
}

/** Commanded crossings of the lattice under a match, far apart in the view, and where they lie in the photo. */
export function crossingsAt(
  strokes: readonly Stroke[],
  { map, cells }: CellView,
  match: CellMove,
): StatedCrossing[] {
  const grid = describeGrid(strokes);
  const core = grid && evenCore(grid);
  if (core === undefined) throw new Error('only cells of an even grid have textures');
  const farthest = [
    [1, 1],
    [-1, -1],
    [1, -1],
    [-1, 1],
  ].map(([p, q]) => cells.reduce((a, b) => (p * b[0] + q * b[1] > p * a[0] + q * a[1] ? b : a)));
  return farthest.map(([a, b]) => {
    const [column, row] = moveCell(match, [a, b]);
    const [uPx, vPx] = imageFromCommanded(map, a, b);
    return {
      xMm: core.xs[0] + column * core.pitchMm[0],
      yMm: core.ys[0] + row * core.pitchMm[1],
      uPx,
      vPx,
    };
  });
}

/** R⁻¹ of `turnedCells`. */
export function turnBack(x: number, y: number, turns: QuarterTurns): [number, number] {
  if (turns === 0) return [x, y];
  if (turns === 1) return [y, -x];
  return turns === 2 ? [-x, -y] : [-y, x];
}
