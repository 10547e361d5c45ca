/** The years of a machine in the report: each quantity's values with ± U, limits, trend, and what broke it. */

import type { MachineDrift } from '../../shared/schemas/drift.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import type { DriftPlot } from '../drift/index.js';
import { at, drawChart } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import { EXPLANATION } from './explanation-words.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { shownFactor, type Units } from './show-number.js';

/** What a history tells of the machine of a measurement. */
export interface ReportDrift {
  readonly drift: MachineDrift;
  readonly plots: readonly DriftPlot[];
}

const VERDICT: Record<NonNullable<DriftPlot['verdict']>, string> = {
  drifts: 'DRIFTS',
  jumped: 'JUMPED',
  scatters: 'scatters more than its uncertainty explains',
  steady: 'nothing but measuring noise',
  'too few': 'too few values for a trend',
};

const DAY_MS = 86_400_000;

/** Undefined where nothing is to be drawn. */
export function driftSection({ drift, plots }: ReportDrift, units: Units): Markup | undefined {
  const shown = plots.filter(({ points }) => points.length > 1);
  if (shown.length === 0) return undefined;
  return markup`<section><h2>Over time</h2>
<p>${counted(drift.measurements, 'measurement')} and ${counted(drift.events, 'event')} of ${drift.machine} in the history. Machine or board: ${EXPLANATION[drift.explanation.verdict]}.</p>
${shown.map((plot) => driftChart(plot, units))}
<p>Bars: ± U. Full line: trend, where there is one. Dashed: the machine’s limits. Dotted: control limits from moving ranges. Upright: events and breaks, in their order in the list.</p>
</section>`;
}

function driftChart(plot: DriftPlot, units: Units): Markup {
  const { factor, unit } = shownFactor(MEASURE_OF[plot.what], units);
  const points = plot.points.map(({ day, value, u }) => ({
    day,
    value: value * factor,
    U: COVERAGE_FACTOR * u * factor,
  }));
  const days = [...points.map(({ day }) => day), ...plot.breaks.map(({ day }) => day)];
  const name = `${QUANTITY_NAME[plot.what]}${plot.shows === 'board' ? `, board ${plot.board ?? ''} by old marks` : ''}`;
  const verdict = plot.verdict === undefined ? '' : `: ${VERDICT[plot.verdict]}`;
  const limit = plot.limit === undefined ? undefined : plot.limit * factor;
  // Limits far beyond all values would flatten them.
  const reach = Math.max(...points.map(({ value, U }) => Math.abs(value) + U));
  const limits = limit === undefined || limit > 3 * reach ? [] : [-limit, limit];
  const control =
    plot.limits === undefined ? [] : [plot.limits.low * factor, plot.limits.high * factor];
  const chart = drawChart({
    title: `${name}${verdict}, ${unit}`,
    description: `${name} over time in ${unit}${verdict}; ${points.length} measurements from ${dateOf(Math.min(...days))} to ${dateOf(Math.max(...days))}`,
    x: { label: 'date', values: days, format: dateOf, ticks: 5 },
    y: {
      label: unit,
      values: [...points.flatMap(({ value, U }) => [value - U, value + U]), ...limits, ...control],
      isRound: true,
    },
    draw: (x, y) => {
      const [from, to] = x.range() as [number, number];
      const level = (value: number, style: string, start = from) =>
        markup`<line class="${style}" x1="${at(start)}" x2="${at(to)}" y1="${at(y(value))}" y2="${at(y(value))}"/>`;
      return [
        markup`<g class="breaks">${plot.breaks.map(({ day }) => markup`<line x1="${at(x(day))}" x2="${at(x(day))}" y1="${at(y.range()[0]!)}" y2="${at(y.range()[1]!)}"/>`)}</g>`,
        ...limits.map((value) => level(value, 'limit')),
        ...control.map((value) => level(value, 'control', x(plot.limits!.fromDay))),
        markup`<g class="forward">${points.map(({ day, value, U }) => markup`<line class="reach" x1="${at(x(day))}" x2="${at(x(day))}" y1="${at(y(value - U))}" y2="${at(y(value + U))}"/><circle cx="${at(x(day))}" cy="${at(y(value))}" r="3"/>`)}${
          plot.line === undefined
            ? undefined
            : markup`<line class="trend" x1="${at(x(plot.line[0].day))}" y1="${at(y(plot.line[0].value * factor))}" x2="${at(x(plot.line[1].day))}" y2="${at(y(plot.line[1].value * factor))}"/>`
        }</g>`,
      ];
    },
  });
  const events = plot.breaks.map(({ day, text }) => markup`<li>${dateOf(day)}: ${text}</li>`);
  return markup`${chart}${events.length === 0 ? undefined : markup`<ul>${events}</ul>`}`;
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

function dateOf(day: number): string {
  return new Date(day * DAY_MS).toISOString().slice(0, 10);
}
