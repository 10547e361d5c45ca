/** A screw-error table for controllers that hold one: deviation by position, forward and reverse. */

import type { DeviationRecord } from '../../shared/schemas/measurement.js';
import { lineThrough } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';

export interface ErrorTableRow {
  /** Commanded, mm; ascending from row to row. */
  readonly positionMm: number;
  /** Actual minus commanded, approached rising and falling, mm; forward is 0 in the first row. */
  readonly forwardMm: number;
  readonly reverseMm: number;
}

export interface ErrorTableOptions {
  /** Most rows; all lines where absent. At least 2. */
  readonly rows?: number;
  /** Without the slope that new steps per unit take out. */
  readonly isLevel?: boolean;
}

/**
 * Lines marked from one side alone get the other side's value by the median lost motion. Where rows have to go, those stay from
 * which the others can best be interpolated.
 *
 * Fails: WRONG_CALL where fewer than two lines of the axis are known.
 */
export function errorTable(
  deviations: readonly DeviationRecord[],
  axis: 'x' | 'y',
  { rows, isLevel = false }: ErrorTableOptions = {},
): Outcome<ErrorTableRow[]> {
  const lines = deviations
    .filter((one) => one.axis === axis && one.rung !== true)
    .sort((a, b) => a.commanded - b.commanded);
  const plays = lines.flatMap(({ forward, reverse }) =>
    forward === undefined || reverse === undefined ? [] : [reverse - forward],
  );
  const play = medianOf(plays) ?? 0;
  const known = lines.flatMap(({ commanded, forward, reverse }): ErrorTableRow[] => {
    const forwardMm = forward ?? (reverse === undefined ? undefined : reverse - play);
    if (forwardMm === undefined) return [];
    return [{ positionMm: commanded, forwardMm, reverseMm: reverse ?? forwardMm + play }];
  });
  if (known.length < 2) {
    return failed(
      'WRONG_CALL',
      `the measurement holds ${known.length} lines across ${axis.toUpperCase()}: no table`,
      {
        hint: 'measure a grid with lines along both axes',
      },
    );
  }
  const level = isLevel ? slopeOf(known) : 0;
  const first = known[0]!;
  const zeroed = known.map((row) => {
    const off = first.forwardMm + level * (row.positionMm - first.positionMm);
    return {
      positionMm: row.positionMm,
      forwardMm: row.forwardMm - off,
      reverseMm: row.reverseMm - off,
    };
  });
  return success(rows === undefined ? zeroed : thin(zeroed, Math.max(2, rows)));
}

/** First line of every table: tells our own file from others. */
export const ERROR_TABLE_HEADER = 'position_mm,forward_mm,reverse_mm';

/** RFC 4180; a tenth of a micrometre. */
export function errorTableCsv(rows: readonly ErrorTableRow[]): string {
  const text = (value: number) => String(Number(value.toFixed(4)) + 0);
  const lines = rows.map((row) =>
    [row.positionMm, row.forwardMm, row.reverseMm].map(text).join(','),
  );
  return `${[ERROR_TABLE_HEADER, ...lines].join('\r\n')}\r\n`;
}

function medianOf(values: readonly number[]): number | undefined {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}

/** Least squares through the means of both directions. */
function slopeOf(rows: readonly ErrorTableRow[]): number {
  return lineThrough(
    rows.map(({ positionMm, forwardMm, reverseMm }) => ({
      at: positionMm,
      value: (forwardMm + reverseMm) / 2,
    })),
  ).slope;
}

/** Begins with both ends and adds, one by one, the row that is farthest off what the chosen ones foretell. */
function thin(all: readonly ErrorTableRow[], count: number): ErrorTableRow[] {
  const chosen = new Set([0, all.length - 1]);
  while (chosen.size < Math.min(count, all.length)) {
    const order = [...chosen].sort((a, b) => a - b);
    let worst = -1;
    let most = -1;
    for (const [k, to] of order.entries()) {
      const from = order[k - 1];
      if (from === undefined) continue;
      for (let i = from + 1; i < to; i++) {
        const off = distance(all[i]!, all[from]!, all[to]!);
        if (off > most) [worst, most] = [i, off];
      }
    }
    chosen.add(worst);
  }
  return [...chosen].sort((a, b) => a - b).map((i) => all[i]!);
}

function distance(row: ErrorTableRow, from: ErrorTableRow, to: ErrorTableRow): number {
  const share = (row.positionMm - from.positionMm) / (to.positionMm - from.positionMm);
  return Math.max(
    ...(['forwardMm', 'reverseMm'] as const).map((key) =>
      Math.abs(row[key] - from[key] - share * (to[key] - from[key])),
    ),
  );
}
