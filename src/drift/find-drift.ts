/** What the history says of one machine and of its boards. */

import { TREND_KEYS } from '../../shared/quantity-keys.js';
import type {
  DriftBreak,
  DriftQuantity,
  DriftSeries,
  MachineDrift,
} from '../../shared/schemas/drift.js';
import type { Limits } from '../../shared/schemas/history.js';
import { DEFAULT_LIMITS } from '../../shared/schemas/machine.js';
import type { EventRow, HistoryRow, MeasurementRow } from '../history/index.js';
import { changeAtBreak } from './change-at-break.js';
import { describeValues } from './describe-values.js';
import { type ExplainedStretch, explainChange } from './explain-change.js';
import { judgeUrgency } from './judge-urgency.js';
import { listSeries, type Series } from './stretches.js';
import { dayOf, valuesOf } from './values-of.js';

export interface DriftOptions {
  readonly asOf: Date;
  /** Instead of those that the entries state. */
  readonly limits?: Partial<Limits>;
}

/**
 * One drift per machine, the most urgent first.
 *
 * @param rows of any machines, oldest first, without removed ones.
 */
export function findDrifts(rows: readonly HistoryRow[], options: DriftOptions): MachineDrift[] {
  const byMachine = new Map<string, HistoryRow[]>();
  for (const row of rows) {
    const own = byMachine.get(row.machine);
    if (own === undefined) byMachine.set(row.machine, [row]);
    else own.push(row);
  }
  return [...byMachine]
    .map(([machine, own]) => findDrift(machine, own, options))
    .sort((a, b) => b.urgency - a.urgency);
}

function findDrift(
  machine: string,
  rows: readonly HistoryRow[],
  { asOf, limits: stated }: DriftOptions,
): MachineDrift {
  const measurements = rows.filter((row) => row.kind === 'measurement');
  const events = rows.filter((row) => row.kind === 'event');
  const limits = {
    ...DEFAULT_LIMITS,
    ...measurements.findLast((row) => row.limits)?.limits,
    ...stated,
  };
  const told = listSeries(measurements, events).map((series) => describeSeries(series, limits));
  const explanation = explainChange(told.map(({ stretch }) => stretch));
  const series = told.map(({ described }) => described);
  const last = measurements.at(-1)?.at;
  return {
    machine,
    measurements: measurements.length,
    events: events.length,
    ...judgeUrgency(series, explanation.verdict, limits, asOf),
    limits,
    series,
    explanation,
    unmeasured: unmeasuredEvents(events, last),
  };
}

function describeSeries(
  series: Series,
  limits: Limits,
): { described: DriftSeries; stretch: ExplainedStretch } {
  const { shows, board, rows, breaks } = series;
  const current = rows.slice(breaks.at(-1)?.before ?? 0);
  const days = Float64Array.from(current, ({ at }) => dayOf(at));
  const values = new Map(TREND_KEYS.map((what) => [what, valuesOf(current, what, days)]));
  const quantities = [...values]
    .map(([what, data]) => describeValues(data, what, shows === 'machine' ? limits : undefined))
    .filter((quantity): quantity is DriftQuantity => quantity !== undefined);
  const material = rows.findLast((row) => row.board.material)?.board.material;
  const described: DriftSeries = {
    shows,
    ...(board === undefined ? {} : { board }),
    ...(material === undefined ? {} : { material }),
    from: current[0]!.at,
    to: current.at(-1)!.at,
    measurements: current.length,
    unknownMarks: current.filter((row) => row.board.marks === 'unknown').length,
    quantities,
    breaks: breaks.map((_, i) => describeBreak(series, i)),
  };
  return { described, stretch: { series: described, rows: current, values } };
}

function describeBreak({ rows, breaks }: Series, index: number): DriftBreak {
  const { at, kind, because, before } = breaks[index]!;
  const earlier: readonly MeasurementRow[] = rows.slice(breaks[index - 1]?.before ?? 0, before);
  const later: readonly MeasurementRow[] = rows.slice(before, breaks[index + 1]?.before);
  const changes = TREND_KEYS.map((what) => changeAtBreak(earlier, later, what));
  return {
    at,
    kind,
    because: [...because],
    changes: changes.filter((change) => change !== undefined),
  };
}

function unmeasuredEvents(events: readonly EventRow[], lastMeasured: string | undefined) {
  return events
    .filter(
      ({ at, event }) => event !== 'note' && (lastMeasured === undefined || at > lastMeasured),
    )
    .map(({ at, text }) => ({ at, text }));
}
