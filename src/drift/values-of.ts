/** The values of one quantity in a stretch of measurements. */

import type { MeasurementRow, QuantityName } from '../history/index.js';
import { median } from '../numerics/index.js';
import type { ValuesInTime } from './judge-values.js';

export interface StretchValues extends ValuesInTime {
  readonly instants: readonly string[];
  /** Measured values before neighbours were joined. */
  readonly measured: number;
  /** Weak or undetermined. */
  readonly leftOut: number;
  /** So many neighbours are one point; 1 where none were joined. */
  readonly joined: number;
}

const DAY_MS = 86_400_000;

/** More are joined to this many groups: pairs of all with all would take minutes, and a line gains nothing. */
const MOST_POINTS = 300;

export function dayOf(instant: string): number {
  return Date.parse(instant) / DAY_MS;
}

export function instantOf(day: number): string | undefined {
  const date = new Date(day * DAY_MS);
  return Number.isNaN(date.getTime()) ? undefined : date.toISOString();
}

/** @param daysOfRows `dayOf` each row, where many quantities of the same rows are asked for. */
export function valuesOf(
  rows: readonly MeasurementRow[],
  what: QuantityName,
  daysOfRows?: ArrayLike<number>,
): StretchValues {
  const [days, values, u, instants]: [number[], number[], number[], string[]] = [[], [], [], []];
  let leftOut = 0;
  for (const [i, { at, quantities }] of rows.entries()) {
    const quantity = quantities[what];
    if (quantity === undefined) continue;
    if (quantity.state !== 'measured' || !(quantity.u > 0)) {
      leftOut += 1;
      continue;
    }
    days.push(daysOfRows?.[i] ?? dayOf(at));
    values.push(quantity.value);
    u.push(quantity.u);
    instants.push(at);
  }
  return join({ days, values, u, instants, measured: values.length, leftOut, joined: 1 });
}

/** Means of neighbours. Their u stays that of one: what they share no mean reduces. */
function join(all: StretchValues): StretchValues {
  const n = all.days.length;
  const joined = Math.ceil(n / MOST_POINTS);
  if (joined <= 1) return all;
  const groups = Array.from({ length: Math.ceil(n / joined) }, (_, i) => i * joined);
  const each = (column: readonly number[], of: (part: readonly number[]) => number) =>
    groups.map((from) => of(column.slice(from, from + joined)));
  return {
    days: each(all.days, mean),
    values: each(all.values, mean),
    u: each(all.u, median),
    instants: groups.map((from) => all.instants[Math.min(n, from + joined) - 1]!),
    measured: n,
    leftOut: all.leftOut,
    joined,
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
