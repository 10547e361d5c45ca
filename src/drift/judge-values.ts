/** One quantity over one stretch without a break: trend, jump, scatter, or nothing but measuring noise. */

import type { DriftVerdict } from '../../shared/schemas/drift.js';
import { chiSquaredTail, median, studentQuantile, studentTwoSided } from '../numerics/index.js';
import { ewmaChart, individualsChart } from './control-charts.js';
import { type MannKendall, mannKendall } from './mann-kendall.js';
import { type TheilSen, theilSen } from './theil-sen.js';
import { type WeightedLine, weightedLine } from './weighted-line.js';

/** Columns of equal length, in the order of time. */
export interface ValuesInTime {
  /** Days since 1970. */
  readonly days: readonly number[];
  readonly values: readonly number[];
  /** Standard uncertainties, above zero. */
  readonly u: readonly number[];
}

export interface Jump {
  /** Index of the first value after it. */
  readonly at: number;
  readonly change: number;
  /** Standard uncertainty and degrees of freedom of `change`. */
  readonly u: number;
  readonly degrees: number;
}

export interface AverageChart {
  readonly baseline: number;
  readonly mean: number;
  readonly value: number;
  /** From the mean of the baseline, by moving ranges and by the stated u. */
  readonly reach: number;
  readonly reachFromU: number;
}

export interface JudgedValues {
  readonly verdict: DriftVerdict;
  readonly mean: { readonly value: number; readonly u: number };
  /** Of a single value: from moving ranges; the median of the stated ones. */
  readonly sigma: number;
  readonly stated: number;
  readonly robust: TheilSen;
  readonly test: MannKendall;
  readonly line: WeightedLine;
  readonly jump?: Jump;
  readonly average?: AverageChart;
}

/**
 * Chance that a test calls a drift where there is none. Small, because a history is looked at after every
 * measurement, for a dozen quantities: chosen with the simulated years in tests/simulation/years.ts.
 */
export const RISK = 5e-4;
/** A line needs a value more than it has terms. */
export const LEAST_VALUES = 3;
/** Weight of the newest value in the moving average: small steps are then seen best (Lucas and Saccucci 1990). */
export const EWMA_WEIGHT = 0.2;
const LEAST_FOR_AVERAGE = 10;
const MOST_BASELINE = 20;
/**
 * The standard deviation from n - 1 moving ranges has the variance 0.826 σ² / (n - 1) (Cryer and Ryan, The estimation
 * of sigma for an X chart (1990)): as many degrees of freedom each.
 */
const DEGREES_PER_RANGE = 1 / (2 * 0.826);
/** Measurements share some of their uncertainty, never all of it: rounded or copied values must not look exact. */
const LEAST_SIGMA_OF_U = 1 / 20;

/** @returns undefined for fewer than three values, or all at one time. */
export function judgeValues(data: ValuesInTime): JudgedValues | undefined {
  const { days, values, u } = data;
  const n = values.length;
  if (n < LEAST_VALUES) return undefined;
  const robust = theilSen(days, values);
  const line = weightedLine(days, values, u);
  if (robust === undefined || line === undefined) return undefined;
  const stated = median(u);
  const chart = individualsChart(values);
  const sigma = Math.max(chart.sigma, LEAST_SIGMA_OF_U * stated);
  const test = mannKendall(values);
  const average = averageChart(values, sigma, stated);
  const isMoving = hasTrend(test, line, n);
  const isAway = average !== undefined && Math.abs(average.value - average.mean) > average.reach;
  const jump = isMoving || isAway ? findJump(data, line) : undefined;
  const verdict: DriftVerdict =
    jump !== undefined
      ? 'jumped'
      : isMoving
        ? 'drifts'
        : scattersTooMuch(values, u)
          ? 'scatters'
          : 'steady';
  return {
    verdict,
    mean: { value: chart.centre, u: Math.max(sigma, stated) / Math.sqrt(n) },
    sigma,
    stated,
    robust,
    test,
    line,
    ...(jump === undefined ? {} : { jump }),
    ...(average === undefined ? {} : { average }),
  };
}

/**
 * The order of the values and the line through them must both say so; where few values cannot, the line alone
 * against the stated uncertainties, which are rather too large for a difference.
 */
function hasTrend(test: MannKendall, line: WeightedLine, n: number): boolean {
  const size = Math.abs(line.slope) / line.uSlope;
  if (test.p < RISK && studentTwoSided(size / line.birge, line.degrees) < RISK) return true;
  const isOrdered = Math.abs(test.tau) > 0.5 || n < 4;
  return isOrdered && studentTwoSided(size, Number.POSITIVE_INFINITY) < RISK;
}

/** The first values say where the average should be; their own scatter counts against a call. */
function averageChart(
  values: readonly number[],
  sigma: number,
  stated: number,
): AverageChart | undefined {
  const n = values.length;
  if (n < LEAST_FOR_AVERAGE) return undefined;
  const baseline = Math.min(MOST_BASELINE, n >> 1);
  const mean = values.slice(0, baseline).reduce((sum, value) => sum + value, 0) / baseline;
  const points = ewmaChart(values.slice(baseline), {
    weight: EWMA_WEIGHT,
    centre: mean,
    sigma: 1,
    sigmas: 1,
  });
  const { average, reach } = points.at(-1)!;
  const perSigma = Math.hypot(reach, 1 / Math.sqrt(baseline));
  const degrees = DEGREES_PER_RANGE * (n - 1);
  return {
    baseline,
    mean,
    value: average,
    reach: studentQuantile(RISK, degrees) * perSigma * sigma,
    reachFromU: studentQuantile(RISK, Number.POSITIVE_INFINITY) * perSigma * stated,
  };
}

/** On each side of a jump; one wild value is none. */
const LEAST_BESIDE_JUMP = 3;
/** Two levels must leave clearly less than a line: with 0.8 one slow drift in 15 is taken for a jump, with 0.6 every other jump of three sigma for a drift. */
const CLEARLY_LESS = 0.7;

/** The split into two levels that leaves least, where it leaves clearly less than a line. */
function findJump({ days, values }: ValuesInTime, line: WeightedLine): Jump | undefined {
  const n = values.length;
  if (n < 2 * LEAST_BESIDE_JUMP + 1) return undefined;
  const total = values.reduce((sum, value) => sum + value, 0);
  const centre = total / n;
  const squares = values.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  let best: { at: number; left: number; change: number } | undefined;
  let before = 0;
  for (let at = 1; at <= n - LEAST_BESIDE_JUMP; at++) {
    before += values[at - 1]! - centre;
    if (at < LEAST_BESIDE_JUMP) continue;
    const left = squares - before ** 2 / at - before ** 2 / (n - at);
    if (best === undefined || left < best.left) {
      best = { at, left, change: -before / (n - at) - before / at };
    }
  }
  const ofLine = values.reduce(
    (sum, value, i) => sum + (value - line.level - line.slope * (days[i]! - line.centre)) ** 2,
    0,
  );
  if (best === undefined || best.left > CLEARLY_LESS * ofLine) return undefined;
  const { at, left, change } = best;
  // The place was searched: a term more.
  const degrees = n - 3;
  const u = Math.sqrt((Math.max(left, 0) / degrees) * (1 / at + 1 / (n - at)));
  const isSure = studentTwoSided(Math.abs(change) / Math.max(u, Number.MIN_VALUE), degrees) < RISK;
  return isSure ? { at, change, u, degrees } : undefined;
}

/** About their weighted mean, against what their own u allow. */
function scattersTooMuch(values: readonly number[], u: readonly number[]): boolean {
  const weights = u.map((one) => 1 / (one * one));
  const sum = weights.reduce((total, w) => total + w, 0);
  const mean = weights.reduce((total, w, i) => total + w * values[i]!, 0) / sum;
  const chiSquared = weights.reduce((total, w, i) => total + w * (values[i]! - mean) ** 2, 0);
  return chiSquaredTail(chiSquared, values.length - 1) < RISK;
}
