/** A drawing over a photo: where the grid should be seen and where each mark was. */

import type { DisplayFrame } from '../imaging/index.js';
import { type Markup, markup } from './escape-markup.js';
import type { OverlayContent, OverlayLine, OverlayMark } from './overlay-content.js';

/** Lines: X turquoise, Y orange; both stand out from wood and burnt marks, and from each other. */
const LINE_COLOUR = { x: '#00c8ff', y: '#ffb000' } as const;
const USED_COLOUR = '#ff2fa8';
const UNUSED_COLOUR = '#ffffff';
/** Parts of the picture's width. */
const TEXT_SHARE = 1 / 62;
const LONG_BAR_SHARE = 1 / 90;
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
  frame: Pick<DisplayFrame, 'widthPx' | 'heightPx' | 'displayFromSensor'>,
): string {
  const { widthPx, heightPx } = frame;
  const drawing: Drawing = {
    ...frame,
    scale: Math.hypot(
      frame.displayFromSensor([1, 0])[0] - frame.displayFromSensor([0, 0])[0],
      frame.displayFromSensor([1, 0])[1] - frame.displayFromSensor([0, 0])[1],
    ),
    textPx: Math.max(9, widthPx * TEXT_SHARE),
    linePx: Math.max(1, widthPx / 1400),
  };
  const exaggeration = chooseExaggeration(content.marks, drawing);
  return markup`<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" font-family="sans-serif">
<g fill="none" stroke-width="${drawing.linePx}" stroke-opacity="0.75">${content.lines.map((line) => drawLine(line, drawing))}</g>
<g>${content.marks.map((mark) => drawMark(mark, exaggeration, drawing))}</g>
${drawOrigin(content, drawing)}
${drawLegend(content, exaggeration, drawing)}
</svg>
`.text;
}

interface Drawing extends Pick<DisplayFrame, 'widthPx' | 'heightPx' | 'displayFromSensor'> {
  /** Display pixels per sensor pixel. */
  readonly scale: number;
  readonly textPx: number;
  readonly linePx: number;
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

function drawLine({ axis, points }: OverlayLine, { displayFromSensor }: Drawing): Markup {
  const path = points.map((point) => pair(displayFromSensor(point))).join(' ');
  return markup`<polyline class="line-${axis}" stroke="${LINE_COLOUR[axis]}" points="${path}"/>\n`;
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

/** The lowest commanded crossing, with arrows toward its neighbours along X and Y. */
function drawOrigin({ corners }: OverlayContent, drawing: Drawing): Markup | undefined {
  const lowX = Math.min(...corners.map(({ x }) => x));
  const lowY = Math.min(...corners.map(({ y }) => y));
  const origin = corners.find(({ x, y }) => x === lowX && y === lowY);
  const alongX = corners.find(({ x, y }) => x > lowX && y === lowY);
  const alongY = corners.find(({ x, y }) => x === lowX && y > lowY);
  if (origin === undefined || alongX === undefined || alongY === undefined) return undefined;
  const { displayFromSensor, textPx, linePx } = drawing;
  const at = displayFromSensor([origin.u, origin.v]);
  const arrow = (corner: typeof origin, name: 'x' | 'y') => {
    const end = displayFromSensor([corner.u, corner.v]);
    const far = Math.hypot(end[0] - at[0], end[1] - at[1]) || 1;
    const [dx, dy] = [(end[0] - at[0]) / far, (end[1] - at[1]) / far];
    const length = Math.min(far / 3, drawing.widthPx / 10);
    const tip = [at[0] + length * dx, at[1] + length * dy] as const;
    const head = textPx * 0.7;
    const barb = (side: number) =>
      pair([
        tip[0] - head * dx + side * head * 0.45 * dy,
        tip[1] - head * dy - side * head * 0.45 * dx,
      ]);
    return markup`<polyline fill="none" stroke="${LINE_COLOUR[name]}" stroke-width="${place(4 * linePx)}" points="${pair(at)} ${pair(tip)}"/>
<polygon fill="${LINE_COLOUR[name]}" points="${pair([tip[0] + head * 0.3 * dx, tip[1] + head * 0.3 * dy])} ${barb(1)} ${barb(-1)}"/>
${label(`${name.toUpperCase()}+`, [tip[0] + textPx * 1.4 * dx, tip[1] + textPx * 1.4 * dy], 'middle', drawing)}`;
  };
  return markup`<g class="origin"><circle cx="${place(at[0])}" cy="${place(at[1])}" r="${place(6 * linePx)}" fill="none" stroke="#ffffff" stroke-width="${place(3 * linePx)}"/>
${arrow(alongX, 'x')}
${arrow(alongY, 'y')}
${label(`X${origin.x} Y${origin.y}`, awayFrom(at, [alongX, alongY], drawing), 'middle', drawing)}</g>`;
}

/** Beside the origin, on the side where no arrow goes, and inside the picture. */
function awayFrom(
  at: readonly [number, number],
  others: readonly { u: number; v: number }[],
  { displayFromSensor, textPx, widthPx, heightPx }: Drawing,
): readonly [number, number] {
  let [dx, dy] = [0, 0];
  for (const { u, v } of others) {
    const end = displayFromSensor([u, v]);
    const far = Math.hypot(end[0] - at[0], end[1] - at[1]) || 1;
    dx -= (end[0] - at[0]) / far;
    dy -= (end[1] - at[1]) / far;
  }
  const keep = (value: number, margin: number, size: number) =>
    Math.min(size - margin, Math.max(margin, value));
  return [
    keep(at[0] + 1.6 * textPx * dx, 3 * textPx, widthPx),
    keep(at[1] + 1.2 * textPx * dy, textPx, heightPx),
  ];
}

/** Text with a dark outline, drawn twice: not every renderer paints the outline behind. */
function label(
  text: string,
  [x, y]: readonly [number, number],
  anchor: 'start' | 'middle',
  { textPx }: Drawing,
): Markup {
  const attributes = markup`x="${place(x)}" y="${place(y + textPx * 0.35)}" font-size="${place(textPx)}" font-weight="bold" text-anchor="${anchor}"`;
  return markup`<text ${attributes} fill="none" stroke="#000000" stroke-width="${place(textPx / 4)}" stroke-linejoin="round">${text}</text><text ${attributes} fill="#ffffff">${text}</text>`;
}

/** A dark strip along the lower edge: what the colours and bars mean, and the caption. */
function drawLegend(
  { caption, marks }: OverlayContent,
  exaggeration: number,
  { widthPx, heightPx, textPx, linePx, scale }: Drawing,
): Markup {
  const strip = textPx * 3.6;
  const top = heightPx - strip;
  const gap = textPx * 0.8;
  const row = (n: number) => place(top + textPx * (1.3 + 1.45 * n));
  const barPx = barOfLegend(exaggeration, scale, textPx);
  const unused = marks.filter((mark) => !mark.used).length;
  const text = (x: number, y: number | string, words: string) =>
    markup`<text x="${place(x)}" y="${y}" font-size="${place(textPx)}" fill="#ffffff">${words}</text>`;
  const barLength = barPx * exaggeration * scale;
  const mid = (n: number) => top + textPx * (0.95 + 1.45 * n);
  const words = `bar: seen minus computed, ${exaggeration} times enlarged; this long is ${barPx} px`;
  const afterBar = gap * 2 + barLength;
  const hollow = `hollow circle: not used (${unused})`;
  // About half the height of a letter is its width.
  const hollowX = afterBar + words.length * textPx * 0.53 + 2 * gap;
  return markup`<g class="legend"><rect x="0" y="${place(top)}" width="${widthPx}" height="${place(strip)}" fill="#000000" fill-opacity="0.72"/>
${text(gap, row(0), `${caption}: thin lines show the grid as computed`)}
<line x1="${place(gap)}" y1="${place(mid(1))}" x2="${place(gap + barLength)}" y2="${place(mid(1))}" stroke="${USED_COLOUR}" stroke-width="${place(2 * linePx)}"/>
${text(afterBar, row(1), words)}
<circle cx="${place(hollowX)}" cy="${place(mid(1))}" r="${place(4 * linePx)}" fill="none" stroke="${UNUSED_COLOUR}" stroke-width="${place(linePx)}"/>
${text(hollowX + gap, row(1), hollow)}</g>`;
}

/** A round residual whose bar is a few letters long. */
function barOfLegend(exaggeration: number, scale: number, textPx: number): number {
  const wanted = (3 * textPx) / (exaggeration * scale);
  const power = 10 ** Math.floor(Math.log10(wanted));
  const step = [5, 2, 1].find((one) => one * power <= wanted) ?? 1;
  return Number((step * power).toPrecision(1));
}

function pair([x, y]: readonly [number, number]): string {
  return `${place(x)},${place(y)}`;
}

/** Hundredths of a display pixel. */
function place(value: number): string {
  return String(Math.round(value * 100) / 100);
}
