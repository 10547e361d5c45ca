/** The straight line through values whose standard uncertainties are stated. */

export interface WeightedLine {
  /** At `centre`. */
  readonly level: number;
  readonly slope: number;
  /** Weighted mean of the times: there level and slope are uncorrelated. */
  readonly centre: number;
  /** Standard uncertainties as the stated u make them. */
  readonly uLevel: number;
  readonly uSlope: number;
  /** n - 2. */
  readonly degrees: number;
  /** Weighted sum of squared residuals; about `degrees` where the stated u are right and independent. */
  readonly chiSquared: number;
  /** √(chiSquared / degrees): times this, the uncertainties are what the scatter makes them. */
  readonly birge: number;
}

/**
 * @param times, values, u of equal length; n ≥ 3, u > 0.
 * @returns undefined where all times are alike.
 * Source: ISO/TS 28037:2010, 6.2 (weighted least squares), with the weighted mean as origin; Birge, The
 * calculation of errors by the method of least squares (1932).
 */
export function weightedLine(
  times: readonly number[],
  values: readonly number[],
  u: readonly number[],
): WeightedLine | undefined {
  const weights = u.map((one) => 1 / (one * one));
  const sum = weights.reduce((total, w) => total + w, 0);
  const centre = weights.reduce((total, w, i) => total + w * times[i]!, 0) / sum;
  const level = weights.reduce((total, w, i) => total + w * values[i]!, 0) / sum;
  let [runs, products] = [0, 0];
  for (const [i, w] of weights.entries()) {
    const run = times[i]! - centre;
    runs += w * run * run;
    products += w * run * (values[i]! - level);
  }
  if (!(runs > 0)) return undefined;
  const slope = products / runs;
  const chiSquared = weights.reduce(
    (total, w, i) => total + w * (values[i]! - level - slope * (times[i]! - centre)) ** 2,
    0,
  );
  const degrees = times.length - 2;
  return {
    level,
    slope,
    centre,
    uLevel: 1 / Math.sqrt(sum),
    uSlope: 1 / Math.sqrt(runs),
    degrees,
    chiSquared,
    birge: degrees > 0 ? Math.sqrt(chiSquared / degrees) : Number.NaN,
  };
}
