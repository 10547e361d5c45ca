/** The projective map of a plane that best takes points to points. */

import { EigenvalueDecomposition, Matrix } from 'ml-matrix';

/**
 * Direct linear transformation with centred and scaled coordinates (Hartley, In defense of the eight-point
 * algorithm, 1997): good as a start, not a least-squares estimate of what was measured.
 *
 * @param pairs [x, y, u, v], at least four, no three of the deciding ones on a line.
 * @returns 3×3, row-major, (x, y, 1) → (u, v, 1) up to scale; undefined for too few or collinear points, and
 *   for places beyond all numbers.
 */
export function fitProjectiveMap(
  pairs: readonly (readonly [x: number, y: number, u: number, v: number])[],
): Float64Array | undefined {
  if (pairs.length < 4) return undefined;
  const from = scaling(pairs.map(([x, y]) => [x, y]));
  const to = scaling(pairs.map(([, , u, v]) => [u, v]));
  const squares = Matrix.zeros(9, 9);
  for (const [x0, y0, u0, v0] of pairs) {
    const x = (x0 - from.x) / from.size;
    const y = (y0 - from.y) / from.size;
    const u = (u0 - to.x) / to.size;
    const v = (v0 - to.y) / to.size;
    for (const row of [
      [x, y, 1, 0, 0, 0, -u * x, -u * y, -u],
      [0, 0, 0, x, y, 1, -v * x, -v * y, -v],
    ]) {
      for (let i = 0; i < 9; i++) {
        for (let j = 0; j < 9; j++) squares.set(i, j, squares.get(i, j) + row[i] * row[j]);
      }
    }
  }
  // Its iteration would run out of the matrix.
  if (!squares.to1DArray().every(Number.isFinite)) return undefined;
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(squares, {
    assumeSymmetric: true,
  });
  const order = realEigenvalues.map((_, i) => i);
  order.sort((a, b) => realEigenvalues[a] - realEigenvalues[b]);
  // A second solution as good as the first: the points lie on a line, or are too few.
  if (realEigenvalues[order[1]] < SINGULAR * realEigenvalues[order[8]]) return undefined;
  const g = eigenvectorMatrix.getColumn(order[0]);
  // to⁻¹ G from, with from = (p - centre) / size.
  const right = (r: number) => {
    const [a, b, c] = [g[3 * r], g[3 * r + 1], g[3 * r + 2]];
    return [a / from.size, b / from.size, c - (a * from.x + b * from.y) / from.size];
  };
  const [first, second, third] = [right(0), right(1), right(2)];
  const h = new Float64Array(9);
  for (let k = 0; k < 3; k++) {
    h[k] = to.size * first[k] + to.x * third[k];
    h[3 + k] = to.size * second[k] + to.y * third[k];
    h[6 + k] = third[k];
  }
  return h.every(Number.isFinite) && h[8] !== 0 ? h.map((value) => value / h[8]) : undefined;
}

/** Eigenvalues are squares: a millionth of the size in the deciding direction. */
const SINGULAR = 1e-12;

function scaling(points: readonly (readonly [number, number])[]) {
  const x = points.reduce((sum, p) => sum + p[0], 0) / points.length;
  const y = points.reduce((sum, p) => sum + p[1], 0) / points.length;
  const square = points.reduce((sum, p) => sum + (p[0] - x) ** 2 + (p[1] - y) ** 2, 0);
  return { x, y, size: Math.sqrt(square / points.length) || 1 };
}
