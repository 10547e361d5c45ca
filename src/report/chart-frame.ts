/** The frame of every chart: title, scales with their numbers, names of the axes; SVG text without a document. */

import { type ScaleLinear, scaleLinear } from 'd3-scale';
import { type Markup, markup } from './escape-markup.js';
import { fixed } from './show-number.js';

export type Scale = ScaleLinear<number, number>;

export interface AxisOfChart {
  /** What it is, with its unit. */
  readonly label: string;
  /** Values that must be inside. */
  readonly values: readonly number[];
  /** Ends at round numbers; else at the values themselves. */
  readonly isRound?: boolean;
  /** What stands at a tick; its number where absent. */
  readonly format?: (tick: number) => string;
  /** About as many of them. */
  readonly ticks?: number;
}

export interface ChartContent {
  /** Shown above. */
  readonly title: string;
  /** What the chart shows, for those who do not see it. */
  readonly description: string;
  readonly x: AxisOfChart;
  readonly y: AxisOfChart;
  /** Drawing units; the picture is as wide as its column. */
  readonly heightPx?: number;
  /** Both axes in one scale, as on a map; the height follows. */
  readonly isMap?: boolean;
  draw(x: Scale, y: Scale): Markup | readonly (Markup | undefined)[];
}

const WIDTH = 640;
const HEIGHT = 230;
const LEFT = 72;
const RIGHT = 20;
const TOP = 26;
const BOTTOM = 42;
/** A number nearer than this to the right edge ends at its tick. */
const AT_EDGE = 12;
/** About as many numbers along the upright axis, and along the other. */
const TICKS = { x: 8, y: 5 } as const;

export function drawChart(content: ChartContent): Markup {
  const { title, description, isMap = false } = content;
  const [x0, x1] = extent(content.x.values);
  const [y0, y1] = extent(content.y.values);
  const height = isMap
    ? TOP + BOTTOM + ((WIDTH - LEFT - RIGHT) * (y1 - y0)) / (x1 - x0 || 1)
    : (content.heightPx ?? HEIGHT);
  const x = scaleLinear([x0, x1], [LEFT, WIDTH - RIGHT]);
  const y = scaleLinear([y0, y1], [height - BOTTOM, TOP]);
  if (content.x.isRound) x.nice(TICKS.x);
  if (content.y.isRound) y.nice(TICKS.y);
  const yTicks = y.ticks(TICKS.y);
  const xTicks = x.ticks(content.x.ticks ?? TICKS.x);
  const xText = content.x.format ?? ((tick: number) => tickText(tick, xTicks));
  const rules = isMap ? [] : yTicks;
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="${title}"><svg class="chart" viewBox="0 0 ${WIDTH} ${at(height)}" role="img" aria-label="${description}">
<text x="${LEFT}" y="16" class="chart-title">${title}</text>
${rules.map((tick) => markup`<line class="${Math.abs(tick) < 1e-12 ? 'zero' : 'rule'}" x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${at(y(tick))}" y2="${at(y(tick))}"/>`)}
${yTicks.map((tick) => markup`<text x="${LEFT - 6}" y="${at(y(tick) + 4)}" text-anchor="end">${tickText(tick, yTicks)}</text>`)}
${xTicks.map((tick) => markup`<line class="rule" x1="${at(x(tick))}" x2="${at(x(tick))}" y1="${at(height - BOTTOM)}" y2="${at(height - BOTTOM + 4)}"/><text x="${at(x(tick))}" y="${at(height - BOTTOM + 16)}" text-anchor="${x(tick) > WIDTH - RIGHT - (content.x.format === undefined ? AT_EDGE : 3 * AT_EDGE) ? 'end' : 'middle'}">${xText(tick)}</text>`)}
<text x="${(LEFT + WIDTH - RIGHT) / 2}" y="${at(height - 6)}" text-anchor="middle">${content.x.label}</text>
<text transform="translate(14 ${at((TOP + height - BOTTOM) / 2)}) rotate(-90)" text-anchor="middle">${content.y.label}</text>
${content.draw(x, y)}
</svg></div>`;
}

function extent(values: readonly number[]): [number, number] {
  const low = Math.min(...values);
  const high = Math.max(...values);
  // One value, or none that differ: a scale of some width about it.
  const pad = Math.max(1e-3, 0.05 * Math.abs(low));
  return high > low ? [low, high] : [low - pad, high + pad];
}

function tickText(tick: number, ticks: readonly number[]): string {
  const step = Math.abs((ticks[1] ?? 1) - (ticks[0] ?? 0)) || 1;
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return fixed(tick, decimals);
}

/** Drawing units, to a tenth. */
export function at(value: number): string {
  return String(Math.round(value * 10) / 10);
}
