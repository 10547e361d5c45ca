/** Least-squares affine map between matched places of two frames. */

import { backSubstitute, factorise, forwardSubstitute } from '../numerics/index.js';

/** @returns [a b c; d e f]: X = a x + b y + c, Y = d x + e y + f. Three places, not in line, at least. */
export function fitAffine(
  places: readonly { from: readonly [number, number]; to: readonly [number, number] }[],
): readonly [number, number, number, number, number, number] {
  const matrix = new Float64Array(9);
  const right = [new Float64Array(3), new Float64Array(3)];
  for (const { from, to } of places) {
    const row = [from[0], from[1], 1];
    for (let i = 0; i < 3; i++) {
      for (let j = 0; j <= i; j++) matrix[3 * i + j] += row[i] * row[j];
      right[0][i] += row[i] * to[0];
      right[1][i] += row[i] * to[1];
    }
  }
  if (!factorise(matrix, 3)) throw new RangeError('the places lie in one line');
  const [x, y] = right.map((side) => backSubstitute(matrix, 3, forwardSubstitute(matrix, 3, side)));
  return [x[0], x[1], x[2], y[0], y[1], y[2]];
}
