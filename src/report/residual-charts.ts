/** What is left in a photo: a histogram beside the normal curve, and a map of mean residuals over the picture. */

import { line } from 'd3-shape';
import type { PhotoRecord, ResidualRecord } from '../../shared/schemas/measurement.js';
import { at, drawChart } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import { fixed } from './show-number.js';

type Shown = Pick<PhotoRecord, 'file' | 'widthPx' | 'heightPx'> & {
  readonly residuals: ResidualRecord;
};

const CURVE_POINTS = 64;

export function residualHistogram({ file, residuals }: Shown): Markup {
  const { counts, from, to } = residuals;
  const step = (to - from) / counts.length;
  const total = counts.reduce((sum, one) => sum + one, 0);
  const normal = Array.from({ length: CURVE_POINTS + 1 }, (_, k) => {
    const z = from + ((to - from) * k) / CURVE_POINTS;
    return { z, count: (total * step * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI) };
  });
  const inside = counts.reduce((sum, one, k) => {
    const [a, b] = [from + k * step, from + (k + 1) * step];
    return a >= -2 - 1e-9 && b <= 2 + 1e-9 ? sum + one : sum;
  }, 0);
  return drawChart({
    title: `Residuals of ${file}, ${total} marks`,
    description: `Histogram of the residuals of ${file} in standard deviations: ${fixed((100 * inside) / total, 0)} % lie within two; the curve is the normal distribution`,
    x: { label: 'residual, standard deviations', values: [from, to] },
    y: {
      label: 'marks',
      values: [0, ...counts, ...normal.map(({ count }) => count)],
      isRound: true,
    },
    draw: (x, y) => [
      markup`<g class="bars">${counts.map((count, k) => markup`<rect x="${at(x(from + k * step) + 0.5)}" width="${at(x(from + step) - x(from) - 1)}" y="${at(y(count))}" height="${at(y(0) - y(count))}"/>`)}</g>`,
      markup`<path class="curve" d="${
        line<(typeof normal)[number]>()
          .x(({ z }) => x(z))
          .y(({ count }) => y(count))
          .digits(1)(normal) ?? ''
      }"/>`,
    ],
  });
}

/** The longest arrow is drawn as this share of a cell. */
const LONGEST = 0.9;

export function residualMap({ file, widthPx = 1, heightPx = 1, residuals }: Shown): Markup {
  const { columns, rows, u, v } = residuals.map;
  const cells = u.map((du, k) => ({
    column: k % columns,
    row: Math.floor(k / columns),
    du,
    dv: v[k] ?? null,
  }));
  const sizes = cells.map(({ du, dv }) => Math.hypot(du ?? 0, dv ?? 0));
  const largest = Math.max(...sizes, 1e-4);
  const cellPx = Math.max(widthPx, heightPx) / Math.max(columns, rows);
  const factor = (LONGEST * cellPx) / largest;
  return drawChart({
    title: `Mean residuals over ${file}; longest ${fixed(largest, 3)} px`,
    description: `Map of mean residuals over the picture ${file}: arrows that point all one way in a region would mean a bent picture or board; the longest is ${fixed(largest, 3)} px`,
    x: { label: 'column, px', values: [0, widthPx] },
    y: { label: 'row, px (downwards −)', values: [-heightPx, 0] },
    isMap: true,
    draw: (x, y) =>
      markup`<g class="error">${cells.map(({ column, row, du, dv }) => {
        if (du === null && dv === null) return undefined;
        const [cu, cv] = [(column + 0.5) * cellPx, (row + 0.5) * cellPx];
        const [tu, tv] = [cu + factor * (du ?? 0), cv + factor * (dv ?? 0)];
        return markup`<line x1="${at(x(cu))}" y1="${at(y(-cv))}" x2="${at(x(tu))}" y2="${at(y(-tv))}"/><circle cx="${at(x(cu))}" cy="${at(y(-cv))}" r="1.5"/>`;
      })}</g>`,
  });
}
