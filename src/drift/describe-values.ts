/** What is told of one quantity in one stretch. */

import { QUANTITY_UNIT } from '../../shared/quantity-keys.js';
import type { DriftCrossing, DriftQuantity } from '../../shared/schemas/drift.js';
import type { Limits } from '../../shared/schemas/history.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import type { QuantityName } from '../history/index.js';
import { individualsChart } from './control-charts.js';
import { foretellCrossing } from './foretell-crossing.js';
import { EWMA_WEIGHT, type JudgedValues, judgeValues, type ValuesInTime } from './judge-values.js';
import { runsSignals } from './runs-rules.js';
import { instantOf, type StretchValues } from './values-of.js';

/** A year of 365.2425 days (the calendar's mean) over twelve. */
export const DAYS_PER_MONTH = 365.2425 / 12;

/** Only these are told: older signals are history, and the JSON of a long one would be nothing but signals. */
const MOST_SIGNALS = 12;

/** @returns undefined where nothing was ever measured. */
export function describeValues(
  data: StretchValues,
  what: QuantityName,
  limits: Limits | undefined,
): DriftQuantity | undefined {
  const n = data.values.length;
  if (n === 0) return undefined;
  const core = {
    what,
    unit: QUANTITY_UNIT[what],
    values: data.measured,
    leftOut: data.leftOut,
    ...(data.joined === 1 ? {} : { joined: data.joined }),
    latest: { at: data.instants.at(-1)!, value: data.values.at(-1)!, u: data.u.at(-1)! },
  };
  const judged = judgeValues(data);
  if (judged === undefined) return { ...core, verdict: 'too few' };
  const { mean, robust, test, line, sigma, stated, jump, verdict } = judged;
  const { p, S, tau, Z } = test;
  const crossing = verdict === 'drifts' ? crossingOf(what, data, judged, limits) : undefined;
  return {
    ...core,
    verdict,
    mean: { value: mean.value, u: mean.u },
    noise: { fromRanges: sigma, stated },
    trend: {
      perMonth: robust.slope * DAYS_PER_MONTH,
      interval: {
        low: robust.interval[0] * DAYS_PER_MONTH,
        high: robust.interval[1] * DAYS_PER_MONTH,
      },
      test: { S, tau, Z, p },
      weighted: {
        perMonth: line.slope * DAYS_PER_MONTH,
        u: line.uSlope * DAYS_PER_MONTH,
        uFromScatter: line.uSlope * line.birge * DAYS_PER_MONTH,
        chiSquared: line.chiSquared,
        degrees: line.degrees,
      },
    },
    ...(jump === undefined
      ? {}
      : {
          jump: {
            at: data.instants[jump.at]!,
            change: jump.change,
            U: COVERAGE_FACTOR * jump.u,
          },
        }),
    charts: chartsOf(data, judged),
    ...(crossing === undefined ? {} : { crossing }),
  };
}

function chartsOf(
  { values, u, instants }: StretchValues,
  { sigma, stated, average }: JudgedValues,
): NonNullable<DriftQuantity['charts']> {
  const { centre } = individualsChart(values);
  const around = (reach: number, middle = centre) => ({
    low: middle - reach,
    high: middle + reach,
  });
  const signals = [
    ...runsSignals(values.map((value) => (value - centre) / sigma)).map((one) => ({
      ...one,
      limits: 'ranges' as const,
    })),
    ...runsSignals(values.map((value, i) => (value - centre) / u[i]!)).map((one) => ({
      ...one,
      limits: 'u' as const,
    })),
  ].sort((a, b) => a.at - b.at);
  return {
    centre,
    fromRanges: around(3 * sigma),
    fromU: around(3 * stated),
    ...(average === undefined
      ? {}
      : {
          average: {
            weight: EWMA_WEIGHT,
            baseline: { values: average.baseline, mean: average.mean },
            value: average.value,
            fromRanges: around(average.reach, average.mean),
            fromU: around(average.reachFromU, average.mean),
          },
        }),
    signals: signals
      .slice(-MOST_SIGNALS)
      .map(({ rule, limits, at }) => ({ rule, limits, at: instants[at]! })),
  };
}

/** Key of the limit and what one unit of it is in the quantity's own. */
const LIMITED: Partial<Record<QuantityName, { key: keyof Limits; unit: 'mm/m' | 'mm' }>> = {
  squareness: { key: 'squareness', unit: 'mm/m' },
  'scale.x': { key: 'scale', unit: 'mm/m' },
  'scale.y': { key: 'scale', unit: 'mm/m' },
  'lostMotion.x': { key: 'lostMotion', unit: 'mm' },
  'lostMotion.y': { key: 'lostMotion', unit: 'mm' },
  'straightness.x': { key: 'straightness', unit: 'mm' },
  'straightness.y': { key: 'straightness', unit: 'mm' },
};

/** Limit of a quantity, in its own unit and as stated. */
export function limitOf(what: QuantityName, limits: Limits | undefined) {
  const limited = LIMITED[what];
  if (limited === undefined || limits === undefined) return undefined;
  const limit = limits[limited.key];
  return { limit, unit: limited.unit, own: limited.unit === 'mm/m' ? limit / 1000 : limit };
}

function crossingOf(
  what: QuantityName,
  { days }: ValuesInTime,
  { line, stated }: JudgedValues,
  limits: Limits | undefined,
): DriftCrossing | undefined {
  const limited = limitOf(what, limits);
  if (limited === undefined) return undefined;
  const { state, atDay, earliestDay, latestDay } = foretellCrossing({
    line,
    stated,
    limit: limited.own,
    firstDay: days[0]!,
    lastDay: days.at(-1)!,
  });
  const instant = (key: string, day: number | undefined) => {
    const at = day === undefined ? undefined : instantOf(day);
    return at === undefined ? {} : { [key]: at };
  };
  return {
    limit: limited.limit,
    unit: limited.unit,
    state,
    ...instant('at', atDay),
    ...instant('earliest', earliestDay),
    ...instant('latest', latestDay),
  };
}
