/** The program's grid laid on itself another way: turned by quarter turns, or shifted by whole lines. */

import type { ImageMap } from './image-map.js';
import type { ProgramGrid } from './program-grid.js';

export interface Turn {
  readonly map: ImageMap;
  /** Affine [a b c; d e f], commanded of the turned program → commanded of the given placement. */
  readonly move: readonly number[];
  readonly rotationDeg: 0 | 90 | 180 | 270;
  /** False where the lines fall only nearly on one another: the map then wants fitting anew. */
  readonly exact: boolean;
}

/** A fit can bend lines this far off, as share of the pitch, nearly onto one another. */
const SAME_PLACE = 0.3;

/** Beyond this share of the pitch, lines do not fall on one another exactly. */
const EXACT_PLACE = 1e-3;

/** Quarter turns under which the grid lines of the program fall on themselves, the present one first. */
export function listTurns(map: ImageMap, grid: ProgramGrid): Turn[] {
  const x0 = grid.xs[0];
  const y0 = grid.ys[0];
  const x1 = grid.xs[grid.xs.length - 1];
  const y1 = grid.ys[grid.ys.length - 1];
  const stretch = (y1 - y0) / (x1 - x0);
  const turns: Turn[] = [{ map, move: [1, 0, 0, 0, 1, 0], rotationDeg: 0, exact: true }];
  const add = (
    rotationDeg: Turn['rotationDeg'],
    move: readonly number[],
    ...pairs: readonly [Float64Array, Float64Array, (p: number) => number][]
  ) => {
    const off = Math.max(...pairs.map(([from, to, at]) => farthest(from, to, at)));
    if (off > SAME_PLACE) return;
    turns.push({ map: compose(map, move), move, rotationDeg, exact: off < EXACT_PLACE });
  };
  const { xs, ys } = grid;
  add(
    90,
    [0, -1 / stretch, x0 + y1 / stretch, stretch, 0, y0 - x0 * stretch],
    [ys, xs, (y) => x0 + (y1 - y) / stretch],
    [xs, ys, (x) => y0 + (x - x0) * stretch],
  );
  add(
    180,
    [-1, 0, x0 + x1, 0, -1, y0 + y1],
    [xs, xs, (x) => x0 + x1 - x],
    [ys, ys, (y) => y0 + y1 - y],
  );
  add(
    270,
    [0, 1 / stretch, x0 - y0 / stretch, -stretch, 0, y1 + x0 * stretch],
    [ys, xs, (y) => x0 + (y - y0) / stretch],
    [xs, ys, (x) => y1 - (x - x0) * stretch],
  );
  return turns;
}

/** Largest distance of a moved line from the nearest line of the target; share of its mean gap. */
function farthest(from: Float64Array, to: Float64Array, at: (p: number) => number): number {
  if (from.length !== to.length) return Number.POSITIVE_INFINITY;
  const pitch = (to[to.length - 1] - to[0]) / (to.length - 1);
  let worst = 0;
  for (const p of from) {
    const target = at(p);
    let nearest = Number.POSITIVE_INFINITY;
    for (const q of to) nearest = Math.min(nearest, Math.abs(q - target));
    worst = Math.max(worst, nearest / pitch);
  }
  return worst;
}

/** The placement with every line where the one `i` further along X and `j` along Y was. */
export function shiftedMap(map: ImageMap, grid: ProgramGrid, i: number, j: number): ImageMap {
  return compose(map, shiftOf(grid, i, j));
}

/** The affine move of such a shift. */
export function shiftOf(grid: ProgramGrid, i: number, j: number): readonly number[] {
  return [1, 0, i * grid.pitchMm[0], 0, 1, j * grid.pitchMm[1]];
}

/** True where all gaps of a family are alike, so that a shift by whole lines is exact. */
export function isEven(grid: ProgramGrid): boolean {
  return [grid.xs, grid.ys].every((lines, f) =>
    lines.every((at, k) => {
      if (k === 0) return true;
      return Math.abs(at - lines[k - 1] - grid.pitchMm[f]) < EXACT_PLACE * grid.pitchMm[f];
    }),
  );
}

/**
 * The evenly spaced lines of a grid: a frame around them, not a gap away, counts as another mark.
 *
 * @returns undefined where the lines within the outermost ones are not even.
 */
export function evenCore(grid: ProgramGrid): ProgramGrid | undefined {
  const kept = [grid.xs, grid.ys].map((lines, f) => {
    const isUsual = (k: number) =>
      Math.abs(lines[k + 1] - lines[k] - grid.pitchMm[f]) < EXACT_PLACE * grid.pitchMm[f];
    const last = lines.length - 1;
    return lines.subarray(isUsual(0) ? 0 : 1, last + (isUsual(last - 1) ? 1 : 0));
  });
  const [xs, ys] = kept;
  if (xs.length < FEWEST_EVEN || ys.length < FEWEST_EVEN) return undefined;
  const units = grid.units.map((unit) => {
    if (unit.family === 2) return unit;
    const line = kept[unit.family].indexOf([grid.xs, grid.ys][unit.family][unit.line]);
    return line < 0 ? { ...unit, family: 2 as const, line } : { ...unit, line };
  });
  const core = { ...grid, xs, ys, units };
  return isEven(core) ? core : undefined;
}

/** Fewer lines make no lattice that could be known again. */
const FEWEST_EVEN = 4;

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

/** First the second move, then the first. */
export function composeMoves(first: readonly number[], second: readonly number[]): number[] {
  const [a, b, c, d, e, f] = first;
  const [p, q, r, s, t, u] = second;
  return [
    a * p + b * s,
    a * q + b * t,
    a * r + b * u + c,
    d * p + e * s,
    d * q + e * t,
    d * r + e * u + f,
  ];
}
