/** When a drifting quantity will leave its limit. */

import { studentQuantile } from '../numerics/index.js';
import type { WeightedLine } from './weighted-line.js';

export interface ForetoldCrossing {
  readonly state: 'beyond' | 'expected' | 'far' | 'never';
  /** Days since 1970. */
  readonly atDay?: number;
  readonly earliestDay?: number;
  /** Absent where the slope may as well be none. */
  readonly latestDay?: number;
}

export interface CrossingQuestion {
  readonly line: WeightedLine;
  /** Median of the stated standard uncertainties of a single value. */
  readonly stated: number;
  /** To both sides, above zero, in the values' unit. */
  readonly limit: number;
  readonly firstDay: number;
  readonly lastDay: number;
}

/** Of the interval of the date. */
const RISK = 0.05;
/** Nobody knows that a trend goes on for longer than this many times the time it was seen. Common practice. */
const FORESIGHT = 3;

/**
 * Carries the weighted line on. Its band has two parts: how well the scatter fixes the line, and what all
 * measurements have in common, which no number of them reduces: the part of the stated u that the scatter does not
 * show.
 *
 * @returns the day on which the line meets the limit, and the days on which the edges of its 95 % band do
 *   (inverse prediction: Fieller, Some problems in interval estimation (1954)).
 */
export function foretellCrossing(question: CrossingQuestion): ForetoldCrossing {
  const { line, stated, limit, firstDay, lastDay } = question;
  const at = (day: number) => line.level + line.slope * (day - line.centre);
  if (Math.abs(at(lastDay)) > limit) return { state: 'beyond' };
  if (line.slope === 0) return { state: 'never' };
  const way = Math.sign(line.slope);
  const atDay = line.centre + (way * limit - line.level) / line.slope;
  const residual = stated * line.birge;
  const common = Math.sqrt(Math.max(0, stated ** 2 - residual ** 2));
  const t = studentQuantile(RISK, line.degrees);
  const k = studentQuantile(RISK, Number.POSITIVE_INFINITY);
  const half = (day: number) =>
    Math.hypot(
      t * line.birge * Math.hypot(line.uLevel, line.uSlope * (day - line.centre)),
      k * common,
    );
  const horizon = lastDay + FORESIGHT * (lastDay - firstDay);
  const outer = (day: number) => way * at(day) + half(day) - limit;
  const inner = (day: number) => way * at(day) - half(day) - limit;
  const earliestDay = firstAbove(outer, lastDay, atDay);
  if (atDay > horizon) {
    return { state: 'far', ...(earliestDay === undefined ? {} : { earliestDay }) };
  }
  const latestDay = firstAbove(inner, atDay, lastDay + 4 * (horizon - lastDay));
  return {
    state: 'expected',
    atDay,
    ...(earliestDay === undefined ? {} : { earliestDay }),
    ...(latestDay === undefined ? {} : { latestDay }),
  };
}

/** Where the function first is above zero between two days; undefined where it is not at the end. */
function firstAbove(
  excess: (day: number) => number,
  from: number,
  until: number,
): number | undefined {
  if (excess(from) >= 0) return from;
  if (!(excess(until) >= 0)) return undefined;
  let [low, high] = [from, until];
  // To minutes.
  while (high - low > 1e-3) {
    const middle = (low + high) / 2;
    if (excess(middle) >= 0) high = middle;
    else low = middle;
  }
  return high;
}
