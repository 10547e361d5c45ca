/** A plot of one quantity over time in the terminal's letters. */

import type { DriftPlot } from '../drift/index.js';
import { localDay } from './history-text.js';
import { plainText } from './plain-text.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { fixed, shownNumber, type Units } from './show-number.js';
import type { Page } from './terminal-page.js';

const ROWS = 9;
const LABEL_COLUMNS = 10;
const DAY_MS = 86_400_000;

const MARKS = { value: 'o', trend: '*', control: '-', limit: '=', event: '|' } as const;

/** Title, plot, dates, and what the letters mean. */
export function driftPlotText(plot: DriftPlot, { width, units, paint }: Page): string[] {
  const { what, points, line, limits, limit, breaks } = plot;
  const columns = width - LABEL_COLUMNS - 2;
  const span = rangeOf(plot);
  const [first, last] = [points[0]!.day, points.at(-1)!.day];
  const cells = Array.from({ length: ROWS }, () => new Array<string>(columns).fill(' '));
  const column = (day: number) =>
    last === first ? columns >> 1 : Math.round(((day - first) / (last - first)) * (columns - 1));
  const row = (value: number) =>
    Math.round(((span.high - value) / (span.high - span.low)) * (ROWS - 1));
  const put = (x: number, y: number, mark: string) => {
    if (cells[y]?.[x] !== undefined) cells[y]![x] = mark;
  };
  for (const { day } of breaks) {
    for (let y = 0; y < ROWS; y++) put(column(day), y, MARKS.event);
  }
  const across = (value: number, fromDay: number, mark: string) => {
    for (let x = column(fromDay); x < columns; x++) put(x, row(value), mark);
  };
  if (limits !== undefined) {
    across(limits.low, limits.fromDay, MARKS.control);
    across(limits.high, limits.fromDay, MARKS.control);
  }
  for (const value of limit === undefined ? [] : [limit, -limit]) across(value, first, MARKS.limit);
  if (line !== undefined) {
    const [from, to] = line;
    const slope = (to.value - from.value) / Math.max(to.day - from.day, Number.MIN_VALUE);
    for (let x = column(from.day); x < columns; x++) {
      const day = first + (x / (columns - 1)) * (last - first);
      put(x, row(from.value + slope * (day - from.day)), MARKS.trend);
    }
  }
  for (const { day, value } of points) put(column(day), row(value), MARKS.value);
  const label = (y: number) => {
    if (y !== 0 && y !== ROWS - 1 && y !== (ROWS - 1) / 2) return ''.padStart(LABEL_COLUMNS);
    const value = span.high - ((span.high - span.low) * y) / (ROWS - 1);
    return labelOf(value, span.high - span.low, plot, units).padStart(LABEL_COLUMNS);
  };
  const dates = [first, last].map((day) => localDay(new Date(day * DAY_MS)));
  const gap = ' '.repeat(Math.max(1, columns - dates[0]!.length - dates[1]!.length));
  const meanings = [
    `${MARKS.value} measured`,
    ...(line === undefined ? [] : [`${MARKS.trend} trend`]),
    ...(limits === undefined ? [] : [`${MARKS.control} control limits`]),
    ...(limit === undefined ? [] : [`${MARKS.limit} limit`]),
    ...(breaks.length === 0 ? [] : [`${MARKS.event} event`]),
  ];
  return [
    paint.bold(titleOf(plot, units)),
    ...cells.map((line, y) => `${label(y)} ${line.join('').trimEnd()}`.trimEnd()),
    paint.dim(`${' '.repeat(LABEL_COLUMNS)} ${dates[0]}${gap}${dates[1]}`),
    paint.dim(`${' '.repeat(LABEL_COLUMNS)} ${meanings.join(', ')}`),
    ...breaks
      .slice(-MOST_EVENTS)
      .map(({ day, text }) =>
        paint.dim(
          `${' '.repeat(LABEL_COLUMNS)} ${localDay(new Date(day * DAY_MS))} ${plainText(text)}`,
        ),
      ),
  ];

  function titleOf({ shows, board }: DriftPlot, inUnits: Units): string {
    const where =
      shows === 'machine'
        ? ''
        : `, old marks${board === undefined ? '' : ` of board ${plainText(board)}`}`;
    return `${QUANTITY_NAME[what]}${where}, ${shownNumber(MEASURE_OF[what], 0, inUnits).unit}`;
  }
}

const MOST_EVENTS = 3;

/** Of the values, the control limits, and the machine's limit where it is not far off. */
function rangeOf({ points, limits, limit }: DriftPlot): { low: number; high: number } {
  const values = points.map(({ value }) => value);
  let [low, high] = [Math.min(...ends(values)), Math.max(...ends(values))];
  const reach = Math.max(high - low, 2 * points.at(-1)!.u);
  for (const value of [
    limits?.low,
    limits?.high,
    limit,
    limit === undefined ? undefined : -limit,
  ]) {
    if (value === undefined || value < low - reach || value > high + reach) continue;
    [low, high] = [Math.min(low, value), Math.max(high, value)];
  }
  const edge = Math.max((high - low) * 0.02, Number.EPSILON * Math.abs(high), Number.MIN_VALUE);
  return high - low > 2 * edge ? { low, high } : { low: low - reach, high: high + reach };
}

/** Least and most; a spread of a hundred thousand arguments is too many for a call. */
function ends(values: readonly number[]): [number, number] {
  return values.reduce(
    ([least, most], value) => [Math.min(least, value), Math.max(most, value)],
    [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY],
  );
}

/** To a hundredth of the range. */
function labelOf(value: number, range: number, { what }: DriftPlot, units: Units): string {
  const shown = shownNumber(MEASURE_OF[what], value, units).value;
  const step = shownNumber(MEASURE_OF[what], range, units).value / 100;
  const decimals = Math.min(6, Math.max(0, -Math.floor(Math.log10(Math.max(step, 1e-9)))));
  return fixed(shown, decimals);
}
