/** The grid as it really is over the commanded one, its errors exaggerated by a stated factor. */

import { line } from 'd3-shape';
import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import { at, drawChart, type Scale } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import { roundDown, roundText, scaleBar } from './scale-bar.js';
import type { Units } from './show-number.js';
import type { TrueGrid, TrueNode } from './true-grid.js';

export interface TrueGridChart {
  readonly chart: Markup;
  /** How many times the errors are drawn larger than they are. */
  readonly factor: number;
  /** Length of the scale bar as an error, in the unit shown. */
  readonly barError: number;
}

/** The largest error is drawn as this share of a cell: lines do not cross their neighbours. */
const LARGEST_SHARE = 0.45;

export function trueGridChart({ nodes, columns, rows }: TrueGrid, units: Units): TrueGridChart {
  const perUnit = units === 'mm' ? 1 : 1 / MM_PER_INCH;
  const xs = nodes.slice(0, columns).map(({ xMm }) => xMm * perUnit);
  const ys = Array.from({ length: rows }, (_, k) => nodes[k * columns]!.yMm * perUnit);
  const cell = Math.min(
    (xs[columns - 1]! - xs[0]!) / (columns - 1),
    (ys[rows - 1]! - ys[0]!) / (rows - 1),
  );
  const largest = Math.max(...nodes.map(({ dxMm, dyMm }) => Math.hypot(dxMm, dyMm) * perUnit));
  const factor = roundDown((LARGEST_SHARE * cell) / (largest || 1e-6));
  const place = ({ xMm, yMm, dxMm, dyMm }: TrueNode) => ({
    x: (xMm + factor * dxMm) * perUnit,
    y: (yMm + factor * dyMm) * perUnit,
  });
  const barError = roundDown(cell / factor);
  const spread = 0.6 * cell;
  const chart = drawChart({
    title: `True grid over the commanded one, errors × ${factor}`,
    description: `The commanded grid in thin lines and, in thick ones, the grid as it really is, its errors drawn ${factor} times larger; an arrow at each node; the bar stands for ${roundText(barError)} ${units} of error`,
    x: { label: `X, ${units}`, values: [xs[0]! - spread, xs[columns - 1]! + spread] },
    // Room for the bar below the grid.
    y: { label: `Y, ${units}`, values: [ys[0]! - 1.6 * spread, ys[rows - 1]! + spread] },
    isMap: true,
    draw: (x, y) => [
      markup`<g class="nominal">${xs.map((one) => markup`<line x1="${at(x(one))}" x2="${at(x(one))}" y1="${at(y(ys[0]!))}" y2="${at(y(ys[rows - 1]!))}"/>`)}${ys.map((one) => markup`<line y1="${at(y(one))}" y2="${at(y(one))}" x1="${at(x(xs[0]!))}" x2="${at(x(xs[columns - 1]!))}"/>`)}</g>`,
      markup`<g class="actual">${Array.from({ length: rows }, (_, k) => pathOf(nodes.slice(k * columns, (k + 1) * columns).map(place), x, y))}${Array.from(
        { length: columns },
        (_, i) =>
          pathOf(
            Array.from({ length: rows }, (_, k) => place(nodes[k * columns + i]!)),
            x,
            y,
          ),
      )}</g>`,
      markup`<g class="error">${nodes.map((node) => {
        const to = place(node);
        return markup`<line x1="${at(x(node.xMm * perUnit))}" y1="${at(y(node.yMm * perUnit))}" x2="${at(x(to.x))}" y2="${at(y(to.y))}"/><circle cx="${at(x(to.x))}" cy="${at(y(to.y))}" r="2"/>`;
      })}</g>`,
      scaleBar(barError, factor, [xs[0]!, ys[0]! - 1.15 * spread], units, x, y),
    ],
  });
  return { chart, factor, barError };
}

function pathOf(points: readonly { x: number; y: number }[], x: Scale, y: Scale): Markup {
  const path = line<{ x: number; y: number }>()
    .x((point) => x(point.x))
    .y((point) => y(point.y))
    .digits(1)([...points]);
  return markup`<path d="${path ?? ''}"/>`;
}
