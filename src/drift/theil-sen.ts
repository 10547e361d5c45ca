/** A slope that a few wild values cannot turn. */

import { median, normalTwoSided } from '../numerics/index.js';

export interface TheilSen {
  /** Median of the slopes of all pairs. */
  readonly slope: number;
  /** Median of y less slope times median of t. */
  readonly intercept: number;
  /** Confidence interval of the slope. */
  readonly interval: readonly [low: number, high: number];
}

/**
 * @param times, values of equal length; n ≥ 2, not all times alike.
 * @param risk of the interval, such as 0.05.
 * @returns undefined where all times are alike.
 * Source: Sen, Estimates of the regression coefficient based on Kendall's tau (1968); ties as in Gilbert,
 * Statistical methods for environmental pollution monitoring (1987), section 16.5.
 */
export function theilSen(
  times: readonly number[],
  values: readonly number[],
  risk = 0.05,
): TheilSen | undefined {
  const n = times.length;
  const all = new Float64Array((n * (n - 1)) / 2);
  let count = 0;
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) {
      const run = times[j]! - times[i]!;
      if (run !== 0) all[count++] = (values[j]! - values[i]!) / run;
    }
  }
  if (count === 0) return undefined;
  const slopes = all.subarray(0, count).sort();
  const slope = median(slopes);
  const spread = (m: number) => m * (m - 1) * (2 * m + 5);
  const tied = [times, values].flatMap(countTies).reduce((sum, tie) => sum + spread(tie), 0);
  const reach = normalTwoSided(risk) * Math.sqrt(Math.max(0, spread(n) - tied) / 18);
  const low = Math.max(0, Math.round((count - reach) / 2) - 1);
  const high = Math.min(count - 1, Math.round((count + reach) / 2));
  return {
    slope,
    intercept: median(values) - slope * median(times),
    interval: [slopes[low]!, slopes[high]!],
  };
}

function countTies(values: readonly number[]): number[] {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts.values()].filter((one) => one > 1);
}
