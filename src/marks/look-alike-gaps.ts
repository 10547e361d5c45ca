/** Whether a stretch of a program's unevenly spaced lines could be mistaken for another one. */

import { solveNormal } from '../numerics/index.js';

/** Lines of either axis that are in view: first and last index. */
export type LinesInView = readonly (readonly [number, number])[];

/** A line this far off its place is seen not to lie there; share of the narrowest gap beside it. */
const OFF = 0.12;
/** Two such lines tell; a single one may be a scratch, or hidden. */
const TELLING = 2;

/**
 * True where the lines in view, shifted or turned by quarter turns, fall nearly on others of the program. Tilt
 * and lens stretch a row smoothly, so that rows which differ by a parabola count as alike.
 *
 * @param axes positions along X and along Y, ascending.
 */
export function hasLookAlike(axes: readonly Float64Array[], inView: LinesInView): boolean {
  const seen = axes.map((lines, f) => lines.subarray(inView[f][0], inView[f][1] + 1));
  const alike = (own: 0 | 1, other: 0 | 1, sense: 1 | -1) => {
    const row = seen[own];
    const lines = axes[other];
    for (let first = 0; first + row.length <= lines.length; first++) {
      if (own === other && sense === 1 && first === inView[own][0]) continue;
      const window = lines.slice(first, first + row.length);
      const target = sense === 1 ? window : window.map((at) => -at).reverse();
      if (fallsOn(row, target)) return true;
    }
    return false;
  };
  return (
    alike(0, 0, 1) ||
    alike(1, 1, 1) ||
    (alike(0, 0, -1) && alike(1, 1, -1)) ||
    (alike(0, 1, 1) && alike(1, 0, -1)) ||
    (alike(0, 1, -1) && alike(1, 0, 1))
  );
}

/** True where a parabola lays one row on the other, all but one line. */
function fallsOn(row: Float64Array, target: Float64Array): boolean {
  const n = row.length;
  const middle = (row[0] + row[n - 1]) / 2;
  const half = (row[n - 1] - row[0]) / 2;
  const matrix = new Float64Array(9);
  const right = new Float64Array(3);
  const terms = Array.from(row, (at) => {
    const t = (at - middle) / half;
    return [1, t, t * t];
  });
  terms.forEach((term, k) => {
    for (let i = 0; i < 3; i++) {
      right[i] += term[i] * target[k];
      for (let j = 0; j < 3; j++) matrix[3 * i + j] += term[i] * term[j];
    }
  });
  const fit = solveNormal(matrix, right, 0);
  if (fit === undefined) return true;
  let off = 0;
  terms.forEach((term, k) => {
    const at = term.reduce((sum, value, i) => sum + value * fit[i], 0);
    const gap = Math.min(
      k > 0 ? target[k] - target[k - 1] : Number.POSITIVE_INFINITY,
      k + 1 < n ? target[k + 1] - target[k] : Number.POSITIVE_INFINITY,
    );
    if (Math.abs(at - target[k]) > OFF * gap) off++;
  });
  return off < TELLING;
}
