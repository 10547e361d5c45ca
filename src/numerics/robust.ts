/** Robust location and spread. */

/** Median of the values; NaN for none. The input is not changed. */
export function median(values: ArrayLike<number>): number {
  // Not Float64Array.from: it walks plain arrays by their iterator.
  const sorted = new Float64Array(values).sort();
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  const middle = n >> 1;
  return n % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

/** 1 / Φ⁻¹(3/4): makes the median absolute deviation an estimate of a normal σ. */
const MAD_TO_SIGMA = 1.4826;

/** Standard deviation estimated from the median absolute deviation about the median. */
export function robustSigma(values: ArrayLike<number>): number {
  const centre = median(values);
  return MAD_TO_SIGMA * median(Array.from(values, (v) => Math.abs(v - centre)));
}
