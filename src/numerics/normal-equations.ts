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

/** Vectors whose products are added to the matrix at once. */
const TOGETHER = 4;

/**
 * Adds products of vectors with themselves to a matrix, some vectors at a time: so many products for each time that an
 * element of the matrix is fetched and stored, which costs more than they do.
 */
class ProductSum {
  /** Elements of the vectors that wait, those of one parameter side by side. */
  private readonly waiting: Float64Array;
  /** Which of them is being built. */
  private next = 0;
  /** The parameters that any of them touches. */
  private readonly touched: Int32Array;
  private readonly isTouched: Uint8Array;
  private count = 0;
  /** The elements of the touched parameters, in their order. */
  private readonly packed: Float64Array;

  constructor(
    private readonly matrix: Float64Array,
    private readonly size: number,
    private readonly sign: 1 | -1,
  ) {
    this.waiting = new Float64Array(TOGETHER * size);
    this.packed = new Float64Array(TOGETHER * size);
    this.touched = new Int32Array(size);
    this.isTouched = new Uint8Array(size);
  }

  /** Adds to one element of the vector that is being built. */
  put(parameter: number, value: number): void {
    const { isTouched } = this;
    this.waiting[TOGETHER * parameter + this.next] += value;
    if (isTouched[parameter] === 1) return;
    isTouched[parameter] = 1;
    this.touched[this.count++] = parameter;
  }

  /** The vector is whole. */
  close(): void {
    if (++this.next === TOGETHER) this.flush();
  }

  /** Each pair of parameters goes to one side of the diagonal or the other. */
  flush(): void {
    const { matrix, waiting, isTouched, touched, count, packed, sign, size: n } = this;
    for (let a = 0; a < count; a++) {
      const from = TOGETHER * touched[a];
      for (let k = 0; k < TOGETHER; k++) {
        packed[TOGETHER * a + k] = waiting[from + k];
        waiting[from + k] = 0;
      }
      isTouched[touched[a]] = 0;
    }
    for (let a = 0; a < count; a++) {
      const at = touched[a] * n;
      const own = TOGETHER * a;
      const g0 = sign * packed[own];
      const g1 = sign * packed[own + 1];
      const g2 = sign * packed[own + 2];
      const g3 = sign * packed[own + 3];
      for (let b = 0, k = 0; b <= a; b++, k += TOGETHER) {
        matrix[at + touched[b]] +=
          g0 * packed[k] + g1 * packed[k + 1] + g2 * packed[k + 2] + g3 * packed[k + 3];
      }
    }
    this.count = 0;
    this.next = 0;
  }
}

export class NormalEquations {
  readonly size: number;
  /** size × size, row-major; whole only after `symmetrise`. */
  readonly matrix: Float64Array;
  readonly rightSide: Float64Array;
  /** The sum since the last `settle`. */
  private readonly recent: Float64Array;
  /** What rounding has taken from `matrix`. */
  private readonly lost: Float64Array;
  private readonly added: ProductSum;
  private readonly eliminated: ProductSum;

  constructor(size: number) {
    this.size = size;
    this.matrix = new Float64Array(size * size);
    this.rightSide = new Float64Array(size);
    this.recent = new Float64Array(size * size);
    this.lost = new Float64Array(size * size);
    this.added = new ProductSum(this.recent, size, 1);
    this.eliminated = new ProductSum(this.recent, size, -1);
  }

  /**
   * Adds one observation equation of weight `weight` (1/variance) and misclosure `residual`. Rows one after the other
   * that hold the same parameters are summed fastest.
   */
  addRow(rows: DesignRows, row: number, residual: number, weight: number): void {
    const { start, index, value } = rows;
    const { rightSide, added } = this;
    const root = Math.sqrt(weight);
    for (let e = start[row]; e < start[row + 1]; e++) {
      const p = index[e];
      const scaled = root * value[e];
      rightSide[p] += root * scaled * residual;
      added.put(p, scaled);
    }
    added.close();
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
   * @param pivot above zero.
   */
  eliminate(
    coupling: Float64Array,
    touched: Int32Array,
    touchedCount: number,
    pivot: number,
    load: number,
  ): void {
    const { rightSide, eliminated } = this;
    const scale = 1 / Math.sqrt(pivot);
    for (let a = 0; a < touchedCount; a++) {
      const p = touched[a];
      const g = coupling[p] * scale;
      rightSide[p] -= g * scale * load;
      eliminated.put(p, g);
    }
    eliminated.close();
  }

  /**
   * Adds what came since the last call to the matrix, with the rounding of that sum kept (Neumaier, Rundungsfehleranalyse
   * einiger Verfahren zur Summation endlicher Summen, 1974; the error by Knuth's two-sum). Called now and then it keeps
   * digits: what is added and what is eliminated nearly cancel in some directions.
   */
  settle(): void {
    const { matrix, recent, lost } = this;
    this.added.flush();
    this.eliminated.flush();
    for (let i = 0; i < matrix.length; i++) {
      const before = matrix[i];
      const sum = before + recent[i];
      const taken = sum - before;
      lost[i] += before - (sum - taken) + (recent[i] - taken);
      matrix[i] = sum;
    }
    recent.fill(0);
  }

  /** Adds both sides of the diagonal up; to be called once, when all is summed. */
  symmetrise(): void {
    this.settle();
    const { matrix, lost, size: n } = this;
    for (let i = 0; i < matrix.length; i++) matrix[i] += lost[i];
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
