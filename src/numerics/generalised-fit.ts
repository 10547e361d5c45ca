/** Linear least squares with a full covariance of the observations, for the handful of observations of a fixture. */

import { backSubstitute, factorise, forwardSubstitute } from './cholesky.js';

export interface GeneralisedFit {
  /** One per column of the design. */
  readonly values: Float64Array;
  /** columns × columns. */
  readonly covariance: Float64Array;
  /** Observed minus fitted. */
  readonly residual: Float64Array;
  readonly chiSquared: number;
  readonly freedom: number;
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
  const [n, k] = [y.length, columns.length];
  const factor = covariance.slice();
  if (!factorise(factor, n, RANK_SHARE)) return undefined;
  const white = (values: ArrayLike<number>) =>
    forwardSubstitute(factor, n, Float64Array.from(values));
  const whiteY = white(y);
  const whiteColumns = columns.map(white);
  const normal = new Float64Array(k * k);
  const right = new Float64Array(k);
  for (let i = 0; i < k; i++) {
    right[i] = dot(whiteColumns[i], whiteY);
    for (let j = 0; j < k; j++) normal[i * k + j] = dot(whiteColumns[i], whiteColumns[j]);
  }
  if (!factorise(normal, k, RANK_SHARE)) return undefined;
  const values = backSubstitute(normal, k, forwardSubstitute(normal, k, right));
  const inverse = new Float64Array(k * k);
  for (let i = 0; i < k; i++) {
    const unit = new Float64Array(k);
    unit[i] = 1;
    inverse.set(backSubstitute(normal, k, forwardSubstitute(normal, k, unit)), i * k);
  }
  const residual = Float64Array.from(y);
  const whiteResidual = whiteY.slice();
  for (let i = 0; i < k; i++) {
    for (let r = 0; r < n; r++) {
      residual[r] -= values[i] * columns[i][r];
      whiteResidual[r] -= values[i] * whiteColumns[i][r];
    }
  }
  return {
    values,
    covariance: inverse,
    residual,
    chiSquared: dot(whiteResidual, whiteResidual),
    freedom: n - k,
  };
}

/**
 * Logarithm of the normal density of y about zero.
 *
 * @returns undefined where C is not positive definite.
 */
export function logNormalDensity(
  y: ArrayLike<number>,
  covariance: Float64Array,
): number | undefined {
  const n = y.length;
  const factor = covariance.slice();
  if (!factorise(factor, n, RANK_SHARE)) return undefined;
  const white = forwardSubstitute(factor, n, Float64Array.from(y));
  let logDeterminant = 0;
  for (let i = 0; i < n; i++) logDeterminant += 2 * Math.log(factor[i * n + i]);
  return -0.5 * (dot(white, white) + logDeterminant + n * Math.log(2 * Math.PI));
}

/** Of a diagonal element must be left so much: less is rounding. */
const RANK_SHARE = 16 * Number.EPSILON;

function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

/**
 * Probability that chi-squared is at least this large by chance.
 *
 * Source: series and continued fraction of the incomplete gamma function, NIST DLMF 8.7.1 and 8.9.2.
 */
export function chiSquaredProbability(chiSquared: number, freedom: number): number {
  if (freedom <= 0) return 1;
  const [a, x] = [freedom / 2, chiSquared / 2];
  if (!(x > 0)) return 1;
  const scale = Math.exp(a * Math.log(x) - x - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let sum = term;
    for (let n = 1; n < MOST_TERMS && term > Number.EPSILON * sum; n++) {
      term *= x / (a + n);
      sum += term;
    }
    return Math.max(0, 1 - scale * sum);
  }
  // Lentz's way through the continued fraction.
  let b = x + 1 - a;
  let c = 1 / TINY;
  let d = 1 / b;
  let h = d;
  for (let n = 1; n < MOST_TERMS; n++) {
    const an = -n * (n - a);
    b += 2;
    d = 1 / (an * d + b || TINY);
    c = b + an / c || TINY;
    const change = c * d;
    h *= change;
    if (Math.abs(change - 1) < Number.EPSILON * 4) break;
  }
  return Math.min(1, scale * h);
}

const MOST_TERMS = 1000;
const TINY = 1e-300;

/** Stirling's series (NIST DLMF 5.11.1) above 10, the recurrence below. */
function logGamma(a: number): number {
  let shift = 0;
  let z = a;
  while (z < 10) {
    shift -= Math.log(z);
    z += 1;
  }
  const w = 1 / (z * z);
  const series = (1 / 12 - w * (1 / 360 - w * (1 / 1260 - w / 1680))) / z;
  return shift + (z - 0.5) * Math.log(z) - z + 0.5 * Math.log(2 * Math.PI) + series;
}
