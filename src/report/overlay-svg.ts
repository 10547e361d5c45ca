/** A drawing over a photo: where the grid should be seen and where each mark was. */

import { type Markup, markup } from './escape-markup.js';
import type { OutsideMarks } from './outside-marks.js';
import type { OverlayContent, OverlayLine, OverlayMark } from './overlay-content.js';
import {
  drawOutside,
  isOutside,
  type OutsideLegend,
  outsideLegend,
  signShape,
} from './overlay-outside.js';
import {
  type Drawing,
  drawOrigin,
  LINE_COLOUR,
  makeDrawing,
  type OverlayFrame,
  pair,
  place,
} from './overlay-parts.js';

const USED_COLOUR = '#ff2fa8';
const UNUSED_COLOUR = '#ffffff';
/** Part of the picture's width. */
const LONG_BAR_SHARE = 1 / 90;
/** About half the height of a letter is its width. */
const LETTER_SHARE = 0.53;
/** Its letters against those in the picture: four rows of them must not hide much of it. */
const LEGEND_SHARE = 0.82;
/** Of one row of the legend, in heights of its letters. */
const ROW_TEXTS = 1.45;
/** The bar that is made this long is the 95th of a hundred: some outliers may stick out. */
const LONG_BAR_QUANTILE = 0.95;

/**
 * Draws a whole SVG document in the display frame.
 *
 * Each mark is a bar from where it was computed toward where it was seen, lengthened by the factor
 * that the legend states. Marks that were not used are hollow circles.
 */
export function overlaySvg(
  content: OverlayContent,
  frame: OverlayFrame,
  outside?: OutsideMarks,
): string {
  const { widthPx, heightPx } = frame;
  const drawing = makeDrawing(frame);
  const exaggeration = chooseExaggeration(content.marks, drawing);
  const legend = outsideLegend(outside);
  const rows = 2 + (legend === undefined ? 0 : legend.signs.length === 0 ? 1 : 2);
  const stripPx = LEGEND_SHARE * drawing.textPx * (0.7 + ROW_TEXTS * rows);
  return markup`<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" font-family="sans-serif">
<g fill="none" stroke-width="${drawing.linePx}" stroke-opacity="0.75">${content.lines.map((line) => drawLine(line, isOutside(line, outside), drawing))}</g>
<g>${content.marks.map((mark) => drawMark(mark, exaggeration, drawing))}</g>
${drawOrigin(content.corners, drawing)}
${drawOutside(content, outside, heightPx - stripPx, drawing)}
${drawLegend(content, exaggeration, legend, stripPx, drawing)}
</svg>
`.text;
}

/** 1, 2 or 5 times a power of ten, so that nearly all bars stay short against the picture. */
function chooseExaggeration(marks: readonly OverlayMark[], { widthPx, scale }: Drawing): number {
  const sizes = marks
    .filter((mark) => mark.used)
    .map((mark) => Math.abs(mark.residualPx))
    .sort((a, b) => a - b);
  const long = sizes[Math.floor(LONG_BAR_QUANTILE * (sizes.length - 1))] ?? 0;
  if (!(long > 0)) return 1;
  const wanted = (widthPx * LONG_BAR_SHARE) / (long * scale);
  const power = 10 ** Math.floor(Math.log10(wanted));
  const step = [5, 2, 1].find((one) => one * power <= wanted) ?? 1;
  return Math.max(1, step * power);
}

/** A line that is out of tolerance is dashed. */
function drawLine(
  { axis, points }: OverlayLine,
  isBad: boolean,
  { displayFromSensor, linePx }: Drawing,
): Markup {
  const path = points.map((point) => pair(displayFromSensor(point))).join(' ');
  return markup`<polyline class="line-${axis}" stroke="${LINE_COLOUR[axis]}"${isBad ? markup` stroke-dasharray="${place(24 * linePx)} ${place(6 * linePx)}"` : undefined} points="${path}"/>\n`;
}

function drawMark(mark: OverlayMark, exaggeration: number, drawing: Drawing): Markup {
  const { u, v, normalU, normalV, residualPx, used } = mark;
  const { displayFromSensor, linePx } = drawing;
  const seen = displayFromSensor([u, v]);
  if (!used) {
    return markup`<circle class="unused" cx="${place(seen[0])}" cy="${place(seen[1])}" r="${place(4 * linePx)}" fill="none" stroke="${UNUSED_COLOUR}" stroke-width="${place(linePx)}"/>\n`;
  }
  const reach = residualPx * exaggeration;
  const computed: [number, number] = [u - residualPx * normalU, v - residualPx * normalV];
  const from = displayFromSensor(computed);
  const to = displayFromSensor([computed[0] + reach * normalU, computed[1] + reach * normalV]);
  return markup`<line class="used" x1="${place(from[0])}" y1="${place(from[1])}" x2="${place(to[0])}" y2="${place(to[1])}" stroke="${USED_COLOUR}" stroke-width="${place(2 * linePx)}" stroke-linecap="round"/>\n`;
}

/** A dark strip along the lower edge: what the colours and bars mean, and the caption. */
function drawLegend(
  { caption, marks }: OverlayContent,
  exaggeration: number,
  outside: OutsideLegend | undefined,
  stripPx: number,
  drawing: Drawing,
): Markup {
  const { widthPx, heightPx, linePx, scale } = drawing;
  const textPx = LEGEND_SHARE * drawing.textPx;
  const top = heightPx - stripPx;
  const gap = textPx * 0.8;
  const row = (n: number) => place(top + textPx * (1.3 + ROW_TEXTS * n));
  const barPx = barOfLegend(exaggeration, scale, textPx);
  const unused = marks.filter((mark) => !mark.used).length;
  const text = (x: number, y: number | string, words: string) =>
    markup`<text x="${place(x)}" y="${y}" font-size="${place(textPx)}" fill="#ffffff">${words}</text>`;
  const barLength = barPx * exaggeration * scale;
  const mid = (n: number) => top + textPx * (0.95 + ROW_TEXTS * n);
  const words = `bar: seen minus computed, ${exaggeration} times enlarged; this long is ${barPx} px`;
  const afterBar = gap * 2 + barLength;
  const hollow = `hollow circle: not used (${unused})`;
  const hollowX = afterBar + words.length * textPx * LETTER_SHARE + 2 * gap;
  let signsEnd = 2 * gap;
  const signs = (outside?.signs ?? []).map((sign) => {
    const x = signsEnd;
    signsEnd += sign.words.length * textPx * LETTER_SHARE + 3.5 * gap;
    return { ...sign, x };
  });
  return markup`<g class="legend"><rect x="0" y="${place(top)}" width="${widthPx}" height="${place(stripPx)}" fill="#000000" fill-opacity="0.72"/>
${text(gap, row(0), `${caption}: thin lines show the grid as computed${signs.some(({ kind }) => kind !== 'bend') ? ', dashed where out of tolerance' : ''}`)}
<line x1="${place(gap)}" y1="${place(mid(1))}" x2="${place(gap + barLength)}" y2="${place(mid(1))}" stroke="${USED_COLOUR}" stroke-width="${place(2 * linePx)}"/>
${text(afterBar, row(1), words)}
<circle cx="${place(hollowX)}" cy="${place(mid(1))}" r="${place(4 * linePx)}" fill="none" stroke="${UNUSED_COLOUR}" stroke-width="${place(linePx)}"/>
${text(hollowX + gap, row(1), hollow)}
${outside === undefined ? undefined : text(gap, row(2), outside.words)}
${signs.map(({ kind, words: meaning, x }) => markup`${signShape(kind, [x, mid(3)], textPx * 0.32, linePx)}${text(x + gap, row(3), meaning)}`)}${signs.length === 0 ? undefined : text(signsEnd, row(3), 'numbers as in the report')}</g>`;
}

/** A round residual whose bar is a few letters long. */
function barOfLegend(exaggeration: number, scale: number, textPx: number): number {
  const wanted = (3 * textPx) / (exaggeration * scale);
  const power = 10 ** Math.floor(Math.log10(wanted));
  const step = [5, 2, 1].find((one) => one * power <= wanted) ?? 1;
  return Number((step * power).toPrecision(1));
}
