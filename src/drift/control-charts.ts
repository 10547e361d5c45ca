/** Charts for single values: individuals with moving ranges, and the exponentially weighted moving average. */

/** Mean range of two normal values, in standard deviations: 2/√π. */
export const D2 = 2 / Math.sqrt(Math.PI);
/** Upper limit of such a range over its mean: 1 + 3 d3 / d2, d3 = √(2 - 4/π). */
const D4 = 1 + (3 * Math.sqrt(2 - 4 / Math.PI)) / D2;
/** Shewhart's. */
const LIMIT_SIGMAS = 3;

export interface IndividualsChart {
  readonly centre: number;
  /** Of a single value, from the mean moving range. */
  readonly sigma: number;
  readonly lower: number;
  readonly upper: number;
  readonly meanMovingRange: number;
  readonly upperMovingRange: number;
}

/**
 * @param values in the order of time; n ≥ 2.
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; ISO 7870-2.
 */
export function individualsChart(values: readonly number[]): IndividualsChart {
  const centre = mean(values);
  const meanMovingRange = mean(values.slice(1).map((value, i) => Math.abs(value - values[i]!)));
  const sigma = meanMovingRange / D2;
  return {
    centre,
    sigma,
    lower: centre - LIMIT_SIGMAS * sigma,
    upper: centre + LIMIT_SIGMAS * sigma,
    meanMovingRange,
    upperMovingRange: D4 * meanMovingRange,
  };
}

export interface EwmaDesign {
  /** Weight of the newest value, 0 < weight ≤ 1. */
  readonly weight: number;
  /** Where it starts and what it is compared with. */
  readonly centre: number;
  /** Of a single value. */
  readonly sigma: number;
  /** Width of the limits in standard deviations of the average. */
  readonly sigmas: number;
}

export interface EwmaPoint {
  readonly average: number;
  /** The average may depart from the centre by so much after as many values. */
  readonly reach: number;
}

/**
 * One point per value. The reach grows with the number of values to its final √(λ / (2 - λ)) σ.
 *
 * Source: NIST/SEMATECH e-Handbook, 6.3.2.4; Lucas and Saccucci, Exponentially weighted moving average control
 * schemes (1990).
 */
export function ewmaChart(values: readonly number[], design: EwmaDesign): EwmaPoint[] {
  const { weight, centre, sigma, sigmas } = design;
  const full = sigmas * sigma * Math.sqrt(weight / (2 - weight));
  let average = centre;
  return values.map((value, i) => {
    average = weight * value + (1 - weight) * average;
    return { average, reach: full * Math.sqrt(1 - (1 - weight) ** (2 * (i + 1))) };
  });
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
