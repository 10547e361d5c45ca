/** A measurement's deviations of one axis → what positioning leaves after its slope, line by line. */

import type { DeviationRecord, Measurement } from '../../shared/schemas/measurement.js';
import { lineThrough } from '../numerics/index.js';

export interface TableEntry {
  /** Commanded place of the line, mm. */
  readonly at: number;
  /** Actual minus commanded, without scale and without lost motion, mm. */
  readonly value: number;
}

export type DeviationTable =
  | { readonly entries: readonly TableEntry[]; readonly u: number }
  | { readonly why: string };

/** A straight line goes through two of them. */
const FEWEST_LINES = 3;

/**
 * The mean of both approaches, less the least-squares line over the grid's lines: that line is scale and
 * datum. Rungs of ladders are left out: they are marked at another time and may be shifted as a whole;
 * an error that repeats with the drive is taken off, for lines meet it at one phase only.
 *
 * A table whose values as a whole are no larger than their noise is none.
 */
export function deviationTable(measurement: Measurement, axis: 'x' | 'y'): DeviationTable {
  const records = measurement.deviations.filter((one) => one.axis === axis && one.rung !== true);
  const lines = withoutLostMotion(records, measurement.lostMotion[axis]);
  if (lines === undefined) {
    return { why: 'lines approached from one side each, and lost motion is not known' };
  }
  if (lines.length < FEWEST_LINES) return { why: 'the measurement has no deviations of it' };
  const entries = withoutLine(
    lines.map((line) => ({ ...line, value: line.value - wave(line.at) })),
  );
  // The uncertainty of the scale grows with the place and is none of the table's: the least one tells
  // what a line has by itself.
  const u = Math.min(...records.map((record) => record.u));
  const square = entries.reduce((sum, { value }) => sum + value ** 2, 0);
  if (square <= SIGNIFICANT_RATIO * u ** 2 * (entries.length - 2)) {
    return { why: 'no larger than its uncertainty' };
  }
  return { entries, u };

  function wave(at: number): number {
    const periodic = measurement.periodic?.[axis];
    if (periodic === undefined || periodic.state === 'undetermined') return 0;
    const { period, phase } = periodic;
    if (period === undefined || phase === undefined) return 0;
    return periodic.value * Math.cos((2 * Math.PI * at) / period - phase);
  }
}

/**
 * Mean square of the values over that of their uncertainty from which on a table counts: for ten lines
 * about the 95 % point of chi-squared over its degrees of freedom, for more lines stricter.
 */
const SIGNIFICANT_RATIO = 2;

/** The middle of both approaches; undefined where lost motion would pass for deviations. */
function withoutLostMotion(
  records: readonly DeviationRecord[],
  lostMotion: Measurement['lostMotion']['x'],
): TableEntry[] | undefined {
  const half = lostMotion.state === 'undetermined' ? undefined : lostMotion.value / 2;
  const senses = new Set(
    records
      .filter(({ forward, reverse }) => (forward === undefined) !== (reverse === undefined))
      .map(({ forward }) => (forward === undefined ? 'reverse' : 'forward')),
  );
  const isMixed = senses.size === 2 || (senses.size === 1 && records.some(hasBoth));
  if (isMixed && half === undefined) return undefined;
  const shift = half ?? 0;
  return records
    .flatMap(({ commanded: at, forward, reverse }) => {
      if (forward !== undefined && reverse !== undefined) {
        return [{ at, value: (forward + reverse) / 2 }];
      }
      if (forward !== undefined) return [{ at, value: forward + shift }];
      return reverse === undefined ? [] : [{ at, value: reverse - shift }];
    })
    .sort((one, other) => one.at - other.at);
}

function hasBoth({ forward, reverse }: DeviationRecord): boolean {
  return forward !== undefined && reverse !== undefined;
}

function withoutLine(entries: readonly TableEntry[]): TableEntry[] {
  const { middle, mean, slope } = lineThrough(entries);
  return entries.map(({ at, value }) => ({ at, value: value - mean - slope * (at - middle) }));
}
