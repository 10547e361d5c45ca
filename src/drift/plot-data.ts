/** What a plot of one quantity over the years shows, for the terminal and for pages. */

import { QUANTITY_UNIT } from '../../shared/quantity-keys.js';
import type { DriftVerdict, MachineDrift } from '../../shared/schemas/drift.js';
import type { HistoryRow, MeasurementRow, QuantityName } from '../history/index.js';
import { median } from '../numerics/index.js';
import { DAYS_PER_MONTH, limitOf } from './describe-values.js';
import { listSeries, type Series } from './stretches.js';
import { dayOf, valuesOf } from './values-of.js';

export interface DriftPlot {
  readonly what: QuantityName;
  readonly unit: (typeof QUANTITY_UNIT)[QuantityName];
  readonly shows: 'machine' | 'board';
  readonly board?: string;
  /** Of the last stretch; absent where nothing was measured in it. */
  readonly verdict?: DriftVerdict;
  /** Days since 1970; values and standard uncertainties in `unit`, oldest first. */
  readonly points: readonly {
    readonly day: number;
    readonly value: number;
    readonly u: number;
  }[];
  /** Trend of the last stretch, where it drifts. */
  readonly line?: readonly [
    from: { day: number; value: number },
    to: { day: number; value: number },
  ];
  /** Control limits of the last stretch. */
  readonly limits?: { readonly low: number; readonly high: number; readonly fromDay: number };
  /** The machine's own limit, to both sides. */
  readonly limit?: number;
  readonly breaks: readonly { readonly day: number; readonly text: string }[];
}

/**
 * All values of a quantity, one plot per series that has any.
 *
 * @param rows of the machine, as `findDrifts` was given them.
 */
export function plotDrift(
  rows: readonly HistoryRow[],
  drift: MachineDrift,
  what: QuantityName,
): DriftPlot[] {
  const own = rows.filter(({ machine }) => machine === drift.machine);
  const series = listSeries(
    own.filter((row): row is MeasurementRow => row.kind === 'measurement'),
    own.filter((row) => row.kind === 'event'),
  );
  return series.flatMap((one, i) => plotSeries(one, drift, i, what) ?? []);
}

function plotSeries(
  { shows, board, rows, breaks }: Series,
  { series, limits }: MachineDrift,
  index: number,
  what: QuantityName,
): DriftPlot | undefined {
  const { days, values, u } = valuesOf(rows, what);
  if (values.length === 0) return undefined;
  const told = series[index]?.quantities.find((quantity) => quantity.what === what);
  const from = dayOf(series[index]!.from);
  const until = days.at(-1)!;
  const slope = (told?.trend?.perMonth ?? 0) / DAYS_PER_MONTH;
  const limit = shows === 'machine' ? limitOf(what, limits)?.own : undefined;
  const current = days
    .map((day, i) => ({ day, value: values[i]! }))
    .filter(({ day }) => day >= from);
  const at = (day: number) => median(current.map((one) => one.value + slope * (day - one.day)));
  return {
    what,
    unit: QUANTITY_UNIT[what],
    shows,
    ...(board === undefined ? {} : { board }),
    ...(told === undefined ? {} : { verdict: told.verdict }),
    points: days.map((day, i) => ({ day, value: values[i]!, u: u[i]! })),
    ...(told?.verdict === 'drifts'
      ? {
          line: [
            { day: from, value: at(from) },
            { day: until, value: at(until) },
          ] as const,
        }
      : {}),
    ...(told?.charts === undefined ? {} : { limits: { ...told.charts.fromRanges, fromDay: from } }),
    ...(limit === undefined ? {} : { limit }),
    breaks: breaks.map(({ at: instant, because }) => ({
      day: dayOf(instant),
      text: because.join('; '),
    })),
  };
}
