/** Linear least squares with a full covariance of the observations, for the handful of observations of a fixture. */

import { backSubstitute, factorise, forwardSubstitute } from './cholesky.js';

/** Observations of a given covariance turned into uncorrelated ones of unit variance: C = L Lᵀ, y becomes L⁻¹ y. */
export interface Whitening {
  /** Of C. */
  readonly logDeterminant: number;
  white(values: ArrayLike<number>): Float64Array;
  /** L⁻ᵀ of whitened values: C⁻¹ y from L⁻¹ y. */
  weighted(white: Float64Array): Float64Array;
}

/** @returns undefined where C (n × n) is not positive definite. */
export function makeWhitening(covariance: Float64Array): Whitening | undefined {
  const n = Math.sqrt(covariance.length);
  const factor = covariance.slice();
  if (!factorise(factor, n, RANK_SHARE)) return undefined;
  let logDeterminant = 0;
  for (let i = 0; i < n; i++) logDeterminant += 2 * Math.log(factor[i * n + i]);
  return {
    logDeterminant,
    white: (values) => forwardSubstitute(factor, n, Float64Array.from(values)),
    weighted: (white) => backSubstitute(factor, n, white.slice()),
  };
}

export interface WhitenedFit {
  /** One per column of the design. */
  readonly values: Float64Array;
  /** columns × columns. */
  readonly covariance: Float64Array;
  readonly chiSquared: number;
  readonly freedom: number;
}

/** Least squares of whitened observations; undefined where the columns depend on each other. */
export function fitWhitened(
  y: Float64Array,
  columns: readonly Float64Array[],
): WhitenedFit | undefined {
  const [n, k] = [y.length, columns.length];
  const normal = new Float64Array(k * k);
  const right = new Float64Array(k);
  for (let i = 0; i < k; i++) {
    right[i] = dot(columns[i], y);
    for (let j = 0; j <= i; j++) normal[i * k + j] = dot(columns[i], columns[j]);
  }
  if (!factorise(normal, k, RANK_SHARE)) return undefined;
  const solved = (b: Float64Array) => backSubstitute(normal, k, forwardSubstitute(normal, k, b));
  const values = solved(right);
  const covariance = new Float64Array(k * k);
  for (let i = 0; i < k; i++) {
    const unit = new Float64Array(k);
    unit[i] = 1;
    covariance.set(solved(unit), i * k);
  }
  const residual = y.slice();
  for (let i = 0; i < k; i++) for (let r = 0; r < n; r++) residual[r] -= values[i] * columns[i][r];
  return { values, covariance, chiSquared: dot(residual, residual), freedom: n - k };
}

export interface GeneralisedFit extends WhitenedFit {
  /** Observed minus fitted. */
  readonly residual: Float64Array;
  /** One row of n per column of the design: values = gain · y. */
  readonly gain: readonly Float64Array[];
}

/**
 * Best linear unbiased estimate (Aitken, On least squares and linear combination of observations, 1935):
 * x = (Aᵀ C⁻¹ A)⁻¹ Aᵀ C⁻¹ y, its covariance (Aᵀ C⁻¹ A)⁻¹.
 *
 * @param y n observations.
 * @param columns of the design A, each of n.
 * @param covariance C, n × n.
 * @returns undefined where C is not positive definite or the columns depend on each other.
 */
export function fitGeneralised(
  y: ArrayLike<number>,
  columns: readonly ArrayLike<number>[],
  covariance: Float64Array,
): GeneralisedFit | undefined {
  const whitening = makeWhitening(covariance);
  if (whitening === undefined) return undefined;
  const white = columns.map((one) => whitening.white(one));
  const fit = fitWhitened(whitening.white(y), white);
  if (fit === undefined) return undefined;
  const residual = Float64Array.from(y);
  const k = columns.length;
  for (let i = 0; i < k; i++) {
    for (let r = 0; r < y.length; r++) residual[r] -= fit.values[i] * columns[i][r];
  }
  const weighted = white.map((one) => whitening.weighted(one));
  const gain = columns.map((_, i) =>
    Float64Array.from(y, (_one, r) =>
      weighted.reduce((sum, column, j) => sum + fit.covariance[i * k + j] * column[r], 0),
    ),
  );
  return { ...fit, residual, gain };
}

/**
 * Logarithm of the normal density of whitened observations about zero, widened by free terms with normal priors.
 *
 * With G the columns times their prior standard deviations, C + G Gᵀ has the determinant |C| |I + Gᵀ C⁻¹ G|, and its
 * inverse follows from the matrix inversion lemma (Woodbury).
 *
 * @param columns G, whitened.
 */
export function logDensityWhitened(
  y: Float64Array,
  columns: readonly Float64Array[],
  logDeterminant: number,
): number {
  const k = columns.length;
  const inner = new Float64Array(k * k);
  const right = new Float64Array(k);
  for (let i = 0; i < k; i++) {
    right[i] = dot(columns[i], y);
    for (let j = 0; j <= i; j++) inner[i * k + j] = dot(columns[i], columns[j]) + (i === j ? 1 : 0);
  }
  // The identity in it keeps it positive definite.
  if (!factorise(inner, k)) throw new Error('a prior spoilt a positive definite matrix');
  let determinant = logDeterminant;
  for (let i = 0; i < k; i++) determinant += 2 * Math.log(inner[i * k + i]);
  const half = forwardSubstitute(inner, k, right);
  const square = dot(y, y) - dot(half, half);
  return -0.5 * (square + determinant + y.length * Math.log(2 * Math.PI));
}

/** Of a diagonal element must be left so much: less is rounding. */
const RANK_SHARE = 16 * Number.EPSILON;

function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}
