/** Robust location and spread. */

/** Median of the values; NaN for none. The input is not changed. */
export function median(values: ArrayLike<number>): number {
  // Not Float64Array.from: it walks plain arrays by their iterator.
  return medianInPlace(new Float64Array(values));
}

/** As `median`; the values are left in another order. NaN counts as larger than all. */
export function medianInPlace(values: Float64Array): number {
  const n = values.length;
  if (n === 0) return Number.NaN;
  let known = n;
  for (let i = 0; i < known; ) {
    if (Number.isNaN(values[i])) {
      values[i] = values[--known];
      values[known] = Number.NaN;
    } else i++;
  }
  const middle = n >> 1;
  if (middle >= known) return Number.NaN;
  select(values, middle, known);
  if (n % 2 === 1) return values[middle];
  // Those before the middle one are no larger: the largest of them is next to it.
  let before = values[0];
  for (let i = 1; i < middle; i++) if (values[i] > before) before = values[i];
  return (before + values[middle]) / 2;
}

/**
 * Brings the k-th smallest of the first n values to place k, no larger ones before it, no smaller ones after it
 * (C. A. R. Hoare, Algorithm 65: find, 1961). No value may be NaN.
 *
 * @param from those before this place are known to be no larger than the rest.
 */
export function select(values: Float64Array, k: number, n: number, from = 0): void {
  let low = from;
  let high = n - 1;
  while (low < high) {
    const a = values[low];
    const b = values[(low + high) >> 1];
    const c = values[high];
    // The middle one of three: rows that are sorted already would else take squared time.
    const pivot = Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i] < pivot) i++;
      while (values[j] > pivot) j--;
      if (i <= j) {
        const held = values[i];
        values[i++] = values[j];
        values[j--] = held;
      }
    }
    if (k <= j) high = j;
    else if (k >= i) low = i;
    else return;
  }
}

/** 1 / Φ⁻¹(3/4): makes the median absolute deviation an estimate of a normal σ. */
const MAD_TO_SIGMA = 1.4826;

/** Standard deviation estimated from the median absolute deviation about the median. */
export function robustSigma(values: ArrayLike<number>): number {
  const centre = median(values);
  const departures = new Float64Array(values);
  for (let i = 0; i < departures.length; i++) departures[i] = Math.abs(departures[i] - centre);
  return MAD_TO_SIGMA * medianInPlace(departures);
}
