/**
 * Weighted normal equations N x = r, summed row by row, with scalar nuisance parameters eliminated
 * on the fly (Schur complement).
 */

import { backSubstitute, factorise, forwardSubstitute } from './cholesky.js';

/** Sparse observation equations, all of one size, in flat arrays. */
export interface DesignRows {
  /** Number of rows used. */
  count: number;
  /** Row k owns entries start[k] … start[k + 1] - 1 of `index` and `value`. */
  readonly start: Int32Array;
  readonly index: Int32Array;
  readonly value: Float64Array;
}

/** Room for `rows` rows of at most `entriesPerRow` entries. */
export function makeDesignRows(rows: number, entriesPerRow: number): DesignRows {
  return {
    count: 0,
    start: new Int32Array(rows + 1),
    index: new Int32Array(rows * entriesPerRow),
    value: new Float64Array(rows * entriesPerRow),
  };
}

export class NormalEquations {
  readonly size: number;
  /** size × size, row-major; each pair of parameters is summed on one side of the diagonal or the other until `symmetrise`. */
  readonly matrix: Float64Array;
  readonly rightSide: Float64Array;
  private readonly coupled: Float64Array;

  constructor(size: number) {
    this.size = size;
    this.matrix = new Float64Array(size * size);
    this.rightSide = new Float64Array(size);
    this.coupled = new Float64Array(size);
  }

  /** Adds one observation equation of weight `weight` (1/variance) and misclosure `residual`. */
  addRow(rows: DesignRows, row: number, residual: number, weight: number): void {
    const { start, index, value } = rows;
    const { matrix, rightSide, size: n } = this;
    const from = start[row];
    const to = start[row + 1];
    for (let a = from; a < to; a++) {
      const ia = index[a];
      const wa = weight * value[a];
      const at = ia * n;
      rightSide[ia] += wa * residual;
      matrix[at + ia] += wa * value[a];
      // Which of the two is larger is left to `symmetrise`: asked here, it would be asked millions of times.
      for (let b = from; b < a; b++) {
        const ib = index[b];
        const product = wa * value[b];
        // A parameter that is listed twice meets itself both ways round.
        matrix[at + ib] += ib === ia ? 2 * product : product;
      }
    }
  }

  /** Adds a pseudo-observation of one parameter: x = offset with the given weight. */
  addPrior(parameter: number, offset: number, weight: number): void {
    this.matrix[parameter * this.size + parameter] += weight;
    this.rightSide[parameter] += weight * offset;
  }

  /**
   * Eliminates one scalar nuisance parameter b with normal equation  g·x + pivot b = load:
   * N -= g gᵀ / pivot, r -= g load / pivot.
   *
   * @param coupling dense, length size.
   * @param touched the indices of `coupling` that are not zero.
   */
  eliminate(
    coupling: Float64Array,
    touched: Int32Array,
    touchedCount: number,
    pivot: number,
    load: number,
  ): void {
    const { matrix, rightSide, coupled, size: n } = this;
    for (let a = 0; a < touchedCount; a++) coupled[a] = coupling[touched[a]];
    for (let a = 0; a < touchedCount; a++) {
      const ia = touched[a];
      const ga = coupled[a] / pivot;
      const at = ia * n;
      rightSide[ia] -= ga * load;
      for (let b = 0; b <= a; b++) matrix[at + touched[b]] -= ga * coupled[b];
    }
  }

  /** Adds both sides of the diagonal up; to be called once, when all is summed. */
  symmetrise(): void {
    const { matrix, size: n } = this;
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < i; j++) {
        matrix[i * n + j] += matrix[j * n + i];
        matrix[j * n + i] = matrix[i * n + j];
      }
    }
  }
}

/**
 * Solves N x = r for symmetric positive definite N, after scaling the diagonal to one (Jacobi),
 * which takes the mixed units of the parameters out of the condition number.
 *
 * @param damping Levenberg-Marquardt: added to the scaled diagonal.
 * @returns x, or undefined where N is not positive definite.
 */
export function solveNormal(
  matrix: Float64Array,
  rightSide: Float64Array,
  damping = 0,
): Float64Array | undefined {
  const n = rightSide.length;
  const scaling = jacobiScaling(matrix, n);
  const factor = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      const value = matrix[i * n + j] * scaling[i] * scaling[j] + (i === j ? damping : 0);
      // Weights that overflow leave infinities, of which a factor might still be made.
      if (!Number.isFinite(value)) return undefined;
      factor[i * n + j] = value;
    }
  }
  if (!factorise(factor, n)) return undefined;
  const x = Float64Array.from(rightSide, (r, i) => r * scaling[i]);
  backSubstitute(factor, n, forwardSubstitute(factor, n, x));
  for (let i = 0; i < n; i++) x[i] *= scaling[i];
  return x;
}

/**
 * Inverse of a symmetric positive definite matrix (Jacobi scaled first).
 *
 * @returns n × n, row-major, or undefined where N is not positive definite.
 */
export function invertNormal(matrix: Float64Array, n: number): Float64Array | undefined {
  const scaling = jacobiScaling(matrix, n);
  const factor = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) factor[i * n + j] = matrix[i * n + j] * scaling[i] * scaling[j];
  }
  if (!factorise(factor, n)) return undefined;
  const inverseLower = invertLower(factor, n);
  const inverse = new Float64Array(n * n);
  // Row by row of the inverse factor: a walk down its columns would leave the cache at every step.
  for (let k = 0; k < n; k++) {
    const row = inverseLower.subarray(k * n, k * n + k + 1);
    for (let i = 0; i <= k; i++) {
      const r = row[i];
      if (r === 0) continue;
      const at = i * n;
      for (let j = 0; j <= i; j++) inverse[at + j] += r * row[j];
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      inverse[i * n + j] *= scaling[i] * scaling[j];
      inverse[j * n + i] = inverse[i * n + j];
    }
  }
  return inverse;
}

/** cᵀ C c for a sparse or dense gradient c. */
export function quadraticForm(covariance: Float64Array, gradient: Float64Array): number {
  const n = gradient.length;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    if (gradient[i] === 0) continue;
    let row = 0;
    for (let j = 0; j < n; j++) row += covariance[i * n + j] * gradient[j];
    sum += gradient[i] * row;
  }
  return sum;
}

function jacobiScaling(matrix: Float64Array, n: number): Float64Array {
  const scaling = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const diagonal = matrix[i * n + i];
    scaling[i] = diagonal > 0 ? 1 / Math.sqrt(diagonal) : 1;
  }
  return scaling;
}

function invertLower(factor: Float64Array, n: number): Float64Array {
  const inverse = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const own = inverse.subarray(i * n, i * n + i + 1);
    for (let k = 0; k < i; k++) {
      const f = factor[i * n + k];
      if (f === 0) continue;
      const at = k * n;
      for (let j = 0; j <= k; j++) own[j] += f * inverse[at + j];
    }
    const pivot = factor[i * n + i];
    for (let j = 0; j < i; j++) own[j] /= -pivot;
    own[i] = 1 / pivot;
  }
  return inverse;
}
