/** The bar that says how large an exaggerated error is. */

import { at, type Scale } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import { fixed, type Units } from './show-number.js';

/**
 * @param error in the unit shown; drawn `factor` times as long, from a place in chart units to the right.
 */
export function scaleBar(
  error: number,
  factor: number,
  [fromX, atY]: readonly [number, number],
  units: Units,
  x: Scale,
  y: Scale,
): Markup {
  const [from, to, height] = [x(fromX), x(fromX + error * factor), y(atY)];
  return markup`<g class="bar"><line x1="${at(from)}" x2="${at(to)}" y1="${at(height)}" y2="${at(height)}"/><line x1="${at(from)}" x2="${at(from)}" y1="${at(height - 4)}" y2="${at(height + 4)}"/><line x1="${at(to)}" x2="${at(to)}" y1="${at(height - 4)}" y2="${at(height + 4)}"/><text x="${at(to + 8)}" y="${at(height + 4)}">${roundText(error)} ${units} of error</text></g>`;
}

/** 1, 2 or 5 times a power of ten, at most the value. */
export function roundDown(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value) + 1e-9);
  const step = [5, 2, 1].find((one) => one * power <= value * (1 + 1e-9)) ?? 1;
  return Number((step * power).toPrecision(1));
}

/** Of a round number: its own digits and no more. */
export function roundText(value: number): string {
  return fixed(value, Math.max(0, -Math.floor(Math.log10(value) + 1e-9)));
}
