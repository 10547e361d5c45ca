/** The table of deviations as a drawing: each axis a panel, forward and reverse apart. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  COVERAGE_FACTOR,
  type DeviationRecord,
  type Measurement,
} from '../../shared/schemas/measurement.js';
import { type Markup, markup } from './escape-markup.js';
import { decimalsOf, fixed, type Units } from './show-number.js';

const WIDTH = 680;
const HEIGHT = 230;
const LEFT = 70;
const RIGHT = 14;
const TOP = 26;
const BOTTOM = 40;
/** About as many numbers beside the scale. */
const TICKS = 5;

/** One drawing per axis and placement that has deviations. */
export function deviationCharts({ deviations }: Measurement, units: Units): Markup[] {
  const groups = new Map<string, DeviationRecord[]>();
  for (const record of deviations) {
    const key = `${record.placement} ${record.axis}`;
    groups.set(key, [...(groups.get(key) ?? []), record]);
  }
  return [...groups.values()].map((records) =>
    drawChart(
      [...records].sort((a, b) => a.commanded - b.commanded),
      units,
    ),
  );
}

function drawChart(records: readonly DeviationRecord[], units: Units): Markup {
  const perUnit = units === 'mm' ? 1 : 1 / MM_PER_INCH;
  const { axis, placement } = records[0]!;
  const places = records.map(({ commanded }) => commanded * perUnit);
  const reaches = records.flatMap(({ forward, reverse, u }) =>
    [forward, reverse]
      .filter((value) => value !== undefined)
      .flatMap((value) => [value - COVERAGE_FACTOR * u, value + COVERAGE_FACTOR * u]),
  );
  const yTicks = chooseTicks(Math.min(0, ...reaches) * perUnit, Math.max(0, ...reaches) * perUnit);
  const xTicks = chooseTicks(Math.min(...places), Math.max(...places));
  const low = yTicks[0]!;
  const high = yTicks[yTicks.length - 1]!;
  const from = Math.min(...places);
  const to = Math.max(...places);
  const x = (at: number) => LEFT + ((WIDTH - LEFT - RIGHT) * (at - from)) / (to - from || 1);
  const y = (value: number) => TOP + ((HEIGHT - TOP - BOTTOM) * (high - value)) / (high - low || 1);
  const series = (name: 'forward' | 'reverse') =>
    records
      .filter((record) => record[name] !== undefined)
      .map((record) => ({
        x: x(record.commanded * perUnit),
        y: y(record[name]! * perUnit),
        isRung: record.rung === true,
        reach: Math.abs(y(COVERAGE_FACTOR * record.u * perUnit) - y(0)),
      }));
  const title = `Deviation of ${axis.toUpperCase()}${placement === 0 ? '' : `, placement ${placement + 1}`}`;
  return markup`<svg class="chart" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${title}: actual minus commanded position against commanded position; the numbers are in the table below">
<text x="${LEFT}" y="16" class="chart-title">${title}, ${units}</text>
${yTicks.map((tick) => markup`<line class="${Math.abs(tick) < 1e-12 ? 'zero' : 'rule'}" x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${at(y(tick))}" y2="${at(y(tick))}"/><text x="${LEFT - 6}" y="${at(y(tick) + 4)}" text-anchor="end">${tickText(tick, yTicks)}</text>`)}
${xTicks.filter((tick) => tick >= from && tick <= to).map((tick) => markup`<text x="${at(x(tick))}" y="${HEIGHT - 22}" text-anchor="middle">${tickText(tick, xTicks)}</text>`)}
<text x="${(LEFT + WIDTH - RIGHT) / 2}" y="${HEIGHT - 5}" text-anchor="middle">commanded ${axis.toUpperCase()}, ${units}</text>
${drawSeries(series('forward'), 'forward')}
${drawSeries(series('reverse'), 'reverse')}
</svg>`;
}

interface Dot {
  readonly x: number;
  readonly y: number;
  /** Rungs stand between the lines and may lie off them as a whole: nothing joins them. */
  readonly isRung: boolean;
  readonly reach: number;
}

/** Forward as filled discs on a full line, reverse as hollow squares on a dashed one. */
function drawSeries(dots: readonly Dot[], name: 'forward' | 'reverse'): Markup {
  const path = dots
    .filter(({ isRung }) => !isRung)
    .map((dot) => `${at(dot.x)},${at(dot.y)}`)
    .join(' ');
  return markup`<g class="${name}"><polyline points="${path}"/>${dots.map(
    (dot) =>
      markup`<line class="reach" x1="${at(dot.x)}" x2="${at(dot.x)}" y1="${at(dot.y - dot.reach)}" y2="${at(dot.y + dot.reach)}"/>${
        name === 'forward'
          ? markup`<circle cx="${at(dot.x)}" cy="${at(dot.y)}" r="3"/>`
          : markup`<rect x="${at(dot.x - 3)}" y="${at(dot.y - 3)}" width="6" height="6"/>`
      }`,
  )}</g>`;
}

/** Round numbers that cover the range. */
function chooseTicks(low: number, high: number): number[] {
  const span = high - low || 1;
  const rough = span / TICKS;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((one) => one * power >= rough) ?? 10);
  const first = Math.floor(low / step + 1e-9);
  const last = Math.ceil(high / step - 1e-9);
  return Array.from({ length: last - first + 1 }, (_, i) => (first + i) * step);
}

function tickText(tick: number, ticks: readonly number[]): string {
  const step = (ticks[1] ?? 1) - (ticks[0] ?? 0);
  return fixed(tick, Math.max(0, decimalsOf(step) - 1));
}

function at(value: number): string {
  return String(Math.round(value * 10) / 10);
}
