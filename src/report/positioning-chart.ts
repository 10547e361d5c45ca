/** Positioning deviation along an axis, forward and reverse, with bands of U and the slope, as ISO 230-2 shows it. */

import { area, line } from 'd3-shape';
import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  COVERAGE_FACTOR,
  type DeviationRecord,
  type Measurement,
} from '../../shared/schemas/measurement.js';
import { lineThrough } from '../numerics/index.js';
import { at, drawChart, type Scale } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import type { Units } from './show-number.js';

/** One chart per axis and placement that has deviations. */
export function positioningCharts(
  { deviations }: Pick<Measurement, 'deviations'>,
  units: Units,
): Markup[] {
  const groups = new Map<string, DeviationRecord[]>();
  for (const record of deviations) {
    const key = `${record.placement} ${record.axis}`;
    groups.set(key, [...(groups.get(key) ?? []), record]);
  }
  return [...groups.values()].map((records) =>
    positioningChart(
      [...records].sort((a, b) => a.commanded - b.commanded),
      units,
    ),
  );
}

interface Dot {
  readonly place: number;
  readonly value: number;
  readonly U: number;
  readonly isRung: boolean;
}

function positioningChart(records: readonly DeviationRecord[], units: Units): Markup {
  const perUnit = units === 'mm' ? 1 : 1 / MM_PER_INCH;
  const { axis, placement } = records[0]!;
  const name = axis.toUpperCase();
  const series = (side: 'forward' | 'reverse') =>
    records.flatMap((record): Dot[] =>
      record[side] === undefined
        ? []
        : [
            {
              place: record.commanded * perUnit,
              value: record[side] * perUnit,
              U: COVERAGE_FACTOR * record.u * perUnit,
              isRung: record.rung === true,
            },
          ],
    );
  const [forward, reverse] = [series('forward'), series('reverse')];
  const all = [...forward, ...reverse];
  const slope = slopeThrough(all);
  const places = all.map(({ place }) => place);
  const ends = [Math.min(...places), Math.max(...places)];
  const which = placement === 0 ? '' : `, position ${placement + 1} of the board`;
  return drawChart({
    title: `Deviation of ${name}${which}, ${units}`,
    description: `Deviation of ${name}${which}: actual minus commanded position against commanded position, forward and reverse, with bands of U; the numbers are in the table below`,
    x: { label: `commanded ${name}, ${units}`, values: places },
    y: {
      label: `actual − commanded, ${units}`,
      values: [0, ...all.flatMap(({ value, U }) => [value - U, value + U])],
      isRound: true,
    },
    draw: (x, y) => [
      slope === undefined
        ? undefined
        : markup`<line class="slope" x1="${at(x(ends[0]!))}" x2="${at(x(ends[1]!))}" y1="${at(y(slope(ends[0]!)))}" y2="${at(y(slope(ends[1]!)))}"/>`,
      drawSeries(forward, 'forward', x, y),
      drawSeries(reverse, 'reverse', x, y),
    ],
  });
}

/** Forward as filled discs on a full line, reverse as hollow squares on a dashed one: not by colour alone. */
function drawSeries(dots: readonly Dot[], name: 'forward' | 'reverse', x: Scale, y: Scale): Markup {
  // Rungs stand between the lines and may lie off them as a whole: nothing joins them.
  const joined = dots.filter(({ isRung }) => !isRung);
  const band = area<Dot>()
    .x((dot) => x(dot.place))
    .y0((dot) => y(dot.value - dot.U))
    .y1((dot) => y(dot.value + dot.U))
    .digits(1)(joined);
  const path = line<Dot>()
    .x((dot) => x(dot.place))
    .y((dot) => y(dot.value))
    .digits(1)(joined);
  return markup`<g class="${name}"><path class="band" d="${band ?? ''}"/><path class="line" d="${path ?? ''}"/>${dots.map(
    (dot) => {
      const [cx, cy] = [x(dot.place), y(dot.value)];
      const reach = markup`<line class="reach" x1="${at(cx)}" x2="${at(cx)}" y1="${at(y(dot.value - dot.U))}" y2="${at(y(dot.value + dot.U))}"/>`;
      const sign =
        name === 'forward'
          ? markup`<circle cx="${at(cx)}" cy="${at(cy)}" r="3"/>`
          : markup`<rect x="${at(cx - 3)}" y="${at(cy - 3)}" width="6" height="6"/>`;
      return markup`${dot.isRung ? reach : undefined}${sign}`;
    },
  )}</g>`;
}

/** Least squares through all values. */
function slopeThrough(dots: readonly Dot[]): ((place: number) => number) | undefined {
  const { middle, mean, slope } = lineThrough(
    dots.map(({ place, value }) => ({ at: place, value })),
  );
  return Number.isFinite(slope) ? (place) => mean + slope * (place - middle) : undefined;
}
