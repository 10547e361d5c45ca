/** What the history says of a machine, for the terminal. */

import type {
  DriftBreak,
  DriftQuantity,
  DriftReason,
  DriftSeries,
  MachineDrift,
} from '../../shared/schemas/drift.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import type { DriftPlot } from '../drift/index.js';
import { RUNS_RULES } from '../drift/index.js';
import { driftPlotText } from './drift-plot-text.js';
import { explanationLines } from './explanation-text.js';
import { localDay } from './history-text.js';
import { plainText } from './plain-text.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { decimalsOf, fixed, showLimit, shownNumber, showValue, type Units } from './show-number.js';
import { joinSections, makePage, type Page, type SummaryOptions } from './terminal-page.js';
import { wrapText } from './wrap-text.js';

/**
 * @param plots to draw below, in this order.
 */
export function driftText(
  drift: MachineDrift,
  plots: readonly DriftPlot[],
  options: SummaryOptions,
): string {
  const page = makePage(options);
  return joinSections([
    headline(drift, page),
    ...drift.series.map((series) => seriesLines(series, page)),
    ...drift.series.map((series) => breakLines(series, page)),
    explanationLines(drift, page),
    ...plots.map((plot) => driftPlotText(plot, page)),
  ]);
}

/** One line or two per machine, the most urgent first. */
export function driftRankingText(drifts: readonly MachineDrift[], options: SummaryOptions): string {
  const page = makePage(options);
  const { paint, width } = page;
  const lines = drifts.flatMap((drift, i) => {
    const lead = `${String(i + 1).padStart(3)}. `;
    const text = `${plainText(drift.machine)}: ${reasonWords(drift.reason)}`;
    const lines = wrapText(text, width, lead);
    return drift.urgency >= URGENT ? lines.map(paint.yellow) : lines;
  });
  return [paint.bold('Machines, the one that needs you first:'), ...lines, ''].join('\n');
}

/** From here on the machine itself moves. */
const URGENT = 1.5;

function reasonWords({ kind, what, at }: DriftReason): string {
  const name = what === undefined ? '' : QUANTITY_NAME[what];
  const day = at === undefined ? '' : dayWords(at);
  switch (kind) {
    case 'outside':
      return `${name} is outside its limit`;
    case 'crossing':
      return `${name} will leave its limit about ${day}`;
    case 'drifts':
      return `${name} drifts, inside its limit for now`;
    case 'jumped':
      return `${name} jumped${at === undefined ? '' : ` about ${day}`}`;
    case 'scatters':
      return `${name} scatters more than its uncertainty explains`;
    case 'board':
      return 'the board moves, not the machine';
    case 'stale':
      return `not measured since ${day}`;
    case 'too few':
      return 'too few measurements for a trend';
    case 'calm':
      return 'nothing but measuring noise';
  }
}

function headline(drift: MachineDrift, { width, paint }: Page): string[] {
  const { machine, measurements, events, series, unmeasured } = drift;
  const last = series
    .map(({ to }) => to)
    .sort()
    .at(-1);
  const text = `${plainText(machine)}: ${reasonWords(drift.reason)}`;
  const counts = `${count(measurements, 'measurement')}, ${count(events, 'event')}${last === undefined ? '' : `, the last measurement on ${dayWords(last)}`}`;
  const after = unmeasured.map(
    ({ at, text }) => `nothing was measured since ${dayWords(at)}: ${plainText(text)}`,
  );
  return [
    ...wrapText(text, width).map((line) => paint.bold(line)),
    paint.dim(counts),
    ...after.flatMap((line) => wrapText(line, width, '  ? ')).map(paint.yellow),
  ];
}

function count(n: number, what: string): string {
  return `${n} ${what}${n === 1 ? '' : 's'}`;
}

function seriesLines(series: DriftSeries, page: Page): string[] {
  const { shows, board, measurements, from, to, unknownMarks, breaks, quantities } = series;
  const of =
    shows === 'machine'
      ? unknownMarks === 0
        ? 'The machine, by fresh marks'
        : `The machine, if its marks were fresh (of ${unknownMarks} nobody said)`
      : `Old marks${board === undefined ? '' : ` of board ${plainText(board)}`}, photographed again: they show the board`;
  const since = breaks.at(-1);
  const after = since === undefined ? '' : `, after: ${plainText(since.because.join('; '))}`;
  const head = `${of}: ${count(measurements, 'measurement')} from ${dayWords(from)} to ${dayWords(to)}${after}`;
  return [
    ...wrapText(head, page.width).map((line) => page.paint.bold(line)),
    ...quantities.flatMap((quantity) => quantityLines(quantity, page)),
  ];
}

const NAME_COLUMNS = 16;
const VALUE_COLUMNS = 26;

function quantityLines(quantity: DriftQuantity, { paint, width, units }: Page): string[] {
  const { what, verdict, latest, leftOut } = quantity;
  const measure = MEASURE_OF[what];
  const value =
    latest === undefined
      ? ''
      : showValue(measure, latest.value, COVERAGE_FACTOR * latest.u, units).withU;
  const more = [
    crossingWords(quantity, units),
    hintWords(quantity),
    leftOut === 0 ? undefined : `${leftOut} weak or undetermined left out`,
    quantity.joined === undefined
      ? undefined
      : `${quantity.joined} neighbours joined to a point each`,
  ].filter((text) => text !== undefined);
  const lead = `${QUANTITY_NAME[what].padEnd(NAME_COLUMNS)}${`${value}  `.padEnd(VALUE_COLUMNS)}`;
  const indent = ' '.repeat(NAME_COLUMNS);
  const words = verdictWords(quantity, units);
  const isLoud = verdict === 'drifts' || verdict === 'jumped';
  const first =
    lead.length + words.length <= width
      ? [`${lead}${isLoud ? paint.red(words) : words}`]
      : [
          lead.trimEnd(),
          ...wrapText(words, width, indent).map((line) => (isLoud ? paint.red(line) : line)),
        ];
  return [...first, ...more.flatMap((text) => wrapText(text, width, indent)).map(paint.dim)];
}

function verdictWords(
  { what, verdict, trend, jump, values, noise }: DriftQuantity,
  units: Units,
): string {
  const measure = MEASURE_OF[what];
  const show = (value: number) => shownNumber(measure, value, units);
  switch (verdict) {
    case 'drifts': {
      const { low, high } = trend!.interval;
      const decimals = decimalsOf(show((high - low) / 2).value);
      const signed = (value: number) =>
        `${value > 0 ? '+' : ''}${fixed(show(value).value, decimals)}`;
      return `DRIFTS ${signed(trend!.perMonth)} ${show(0).unit} per month (${signed(low)} to ${signed(high)})`;
    }
    case 'jumped':
      return `JUMPED about ${dayWords(jump!.at)} by ${showValue(measure, jump!.change, jump!.U, units).withU}, and no event tells why`;
    case 'scatters': {
      const times = noise!.fromRanges / noise!.stated;
      return times > 1
        ? `scatters ${times.toFixed(1)} times as much as its uncertainty explains`
        : 'wanders more than its uncertainty explains, without a trend';
    }
    case 'steady':
      return 'nothing but measuring noise';
    case 'too few':
      return `${count(values, 'value')}: too few for a trend`;
  }
}

function crossingWords({ crossing }: DriftQuantity, units: Units): string | undefined {
  if (crossing === undefined) return undefined;
  const limit = `its limit of ${showLimit(crossing.limit, crossing.unit, units)}`;
  const { at, earliest, latest } = crossing;
  switch (crossing.state) {
    case 'beyond':
      return `by the trend it has left ${limit}`;
    case 'expected': {
      const from = earliest === undefined ? '' : `${dayWords(earliest)} `;
      const until = latest === undefined ? `or later, perhaps never` : `to ${dayWords(latest)}`;
      return `leaves ${limit} about ${dayWords(at!)} (95 %: ${from}${until})`;
    }
    case 'far':
      return `stays within ${limit} for more than three times as long as it was watched${earliest === undefined ? '' : `; at the worst it leaves it on ${dayWords(earliest)}`}`;
    case 'never':
      return undefined;
  }
}

/** Only what the newest value completed: in a long history chance makes every pattern somewhere. */
function hintWords({ verdict, charts, latest }: DriftQuantity): string | undefined {
  if (verdict !== 'steady' && verdict !== 'scatters') return undefined;
  const signal = charts?.signals.findLast(
    ({ at, limits }) => at === latest?.at && limits === 'ranges',
  );
  const average = charts?.average;
  const isAway =
    average !== undefined &&
    (average.value < average.fromRanges.low || average.value > average.fromRanges.high);
  if (signal === undefined && !isAway) return undefined;
  const what =
    signal === undefined ? 'the moving average has left its limits' : RUNS_RULES[signal.rule];
  return `on the control chart: ${what}; measure again before believing it`;
}

const MOST_BREAKS = 3;

function breakLines({ breaks }: DriftSeries, page: Page): string[] {
  if (breaks.length === 0) return [];
  const { paint, width } = page;
  return [
    paint.bold('What events changed:'),
    ...breaks.slice(-MOST_BREAKS).flatMap((one) => {
      const text = `${dayWords(one.at)} ${plainText(one.because.join('; '))}: ${changeWords(one, page.units)}`;
      return wrapText(text, width, '  ');
    }),
  ];
}

function changeWords({ changes }: DriftBreak, units: Units): string {
  const told = changes
    .filter(({ changed }) => changed)
    .map(
      ({ what, change, U }) =>
        `${QUANTITY_NAME[what]} ${change > 0 ? '+' : ''}${showValue(MEASURE_OF[what], change, U, units).withU}`,
    );
  return told.length === 0 ? 'nothing that is larger than its uncertainty' : told.join('; ');
}

function dayWords(instant: string): string {
  return localDay(new Date(instant));
}
