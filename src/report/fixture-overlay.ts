/** A drawing over a photo: where the layout has each feature, where it was found, and whether that will do. */

import type { FixturePosition } from '../../shared/schemas/fixture.js';
import { type Markup, markup } from './escape-markup.js';
import type { OverlayCorner } from './overlay-content.js';
import {
  type Drawing,
  drawOrigin,
  label,
  makeDrawing,
  type OverlayFrame,
  pair,
  place,
} from './overlay-parts.js';
import { roundDown } from './scale-bar.js';

type Pixel = readonly [u: number, v: number];

/** A feature as one photo shows it; sensor pixels. */
export interface FixtureOverlayFeature {
  /** As in the table of the report. */
  readonly number: number;
  readonly name: string;
  /** Its rim, edge or corner where the layout has it. */
  readonly nominal: readonly Pixel[];
  /** The same where it was found. */
  readonly found?: readonly Pixel[];
  /** What is left after offset and turn: where it starts, and its vector. */
  readonly left?: { readonly from: Pixel; readonly byPx: Pixel };
  /** Whether this very photo shows it. */
  readonly isSeen: boolean;
  readonly verdict: FixturePosition['verdict'];
}

export interface FixtureOverlay {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly features: readonly FixtureOverlayFeature[];
  readonly corners: readonly OverlayCorner[];
  readonly caption: string;
}

const NOMINAL_COLOUR = '#00c8ff';
const COLOUR = { good: '#ffffff', outside: '#ff2fa8', open: '#ffb000' } as const;
/** Where there are more, a number has to do. */
const MOST_NAMED = 25;
/** The longest bar, as a part of the picture's width. */
const LONG_BAR_SHARE = 1 / 18;

/** Draws a whole SVG document in the display frame. */
export function fixtureOverlaySvg(content: FixtureOverlay, frame: OverlayFrame): string {
  const { widthPx, heightPx } = frame;
  const drawing = makeDrawing(frame);
  const factor = chooseFactor(content.features, drawing);
  const isNamed = content.features.length <= MOST_NAMED;
  return markup`<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" font-family="sans-serif">
${drawOrigin(content.corners, drawing)}
<g>${content.features.map((feature) => drawFeature(feature, factor, isNamed, drawing))}</g>
${drawLegend(content, factor, drawing)}
</svg>
`.text;
}

function chooseFactor(
  features: readonly FixtureOverlayFeature[],
  { widthPx, scale }: Drawing,
): number {
  const longest = Math.max(0, ...features.map(({ left }) => Math.hypot(...(left?.byPx ?? [0, 0]))));
  if (!(longest > 0)) return 1;
  return Math.max(1, roundDown((widthPx * LONG_BAR_SHARE) / (longest * scale)));
}

function drawFeature(
  { number, name, nominal, found, left, isSeen, verdict }: FixtureOverlayFeature,
  factor: number,
  isNamed: boolean,
  drawing: Drawing,
): Markup {
  const { displayFromSensor, linePx } = drawing;
  const path = (points: readonly Pixel[]) =>
    points.map((point) => pair(displayFromSensor(point))).join(' ');
  const colour =
    verdict === 'outside' ? COLOUR.outside : verdict === 'cannot tell' ? COLOUR.open : COLOUR.good;
  const bar = () => {
    if (left === undefined) return undefined;
    const [u, v] = left.from;
    const from = displayFromSensor(left.from);
    const to = displayFromSensor([u + factor * left.byPx[0], v + factor * left.byPx[1]]);
    return markup`<line class="left" x1="${place(from[0])}" y1="${place(from[1])}" x2="${place(to[0])}" y2="${place(to[1])}" stroke="${colour}" stroke-width="${place(3 * linePx)}" stroke-linecap="round"/>`;
  };
  const shown = nominal.map((point) => displayFromSensor(point));
  return markup`<g class="feature"><polyline class="nominal" fill="none" stroke="${NOMINAL_COLOUR}" stroke-width="${place(2 * linePx)}" stroke-dasharray="${place(5 * linePx)} ${place(4 * linePx)}" points="${path(nominal)}"/>
${found === undefined ? cross(shown, drawing) : markup`<polyline class="found" fill="none" stroke="${colour}" stroke-width="${place(2 * linePx)}" points="${path(found)}"/>`}${bar()}
${label(wordsOf(isNamed ? `${number} ${shortened(name)}` : String(number), found !== undefined, isSeen, verdict), beside(shown, drawing), 'start', drawing)}</g>
`;
}

const MOST_NAME = 14;

function shortened(name: string): string {
  const letters = [...name];
  return letters.length > MOST_NAME ? `${letters.slice(0, MOST_NAME - 1).join('')}…` : name;
}

function wordsOf(
  head: string,
  isFound: boolean,
  isSeen: boolean,
  verdict: FixturePosition['verdict'],
): string {
  if (!isFound) return `${head} not found`;
  const word = verdict === 'outside' ? ' OUTSIDE' : verdict === 'cannot tell' ? ' cannot tell' : '';
  return `${head}${word}${isSeen ? '' : ' (not seen here)'}`;
}

/** Where nothing was found the place is crossed out. */
function cross(shown: readonly Pixel[], { linePx }: Drawing): Markup {
  const [x, y] = middleOf(shown);
  const r = 6 * linePx;
  return markup`<path class="unseen" fill="none" stroke="${COLOUR.outside}" stroke-width="${place(2 * linePx)}" d="M${place(x - r)} ${place(y - r)}L${place(x + r)} ${place(y + r)}M${place(x - r)} ${place(y + r)}L${place(x + r)} ${place(y - r)}"/>`;
}

function middleOf(points: readonly Pixel[]): Pixel {
  const sum = (k: 0 | 1) => points.reduce((total, point) => total + point[k], 0) / points.length;
  return [sum(0), sum(1)];
}

/** To the right of it and a little above, inside the picture. */
function beside(shown: readonly Pixel[], { textPx, widthPx, heightPx }: Drawing): Pixel {
  const right = Math.max(...shown.map(([x]) => x));
  const [, y] = middleOf(shown);
  const keep = (value: number, from: number, to: number) => Math.min(to, Math.max(from, value));
  return [
    keep(right + 0.4 * textPx, 0.4 * textPx, widthPx - 12 * textPx),
    keep(y - 0.8 * textPx, textPx, heightPx - 5 * textPx),
  ];
}

/** A dark strip along the lower edge. */
function drawLegend(
  { caption, features }: FixtureOverlay,
  factor: number,
  { widthPx, heightPx, textPx }: Drawing,
): Markup {
  const strip = textPx * 3.6;
  const top = heightPx - strip;
  const outside = features.filter(({ verdict }) => verdict === 'outside').length;
  const isJudged = features.some(({ verdict }) => verdict !== undefined);
  const row = (n: number, words: string) =>
    markup`<text x="${place(textPx * 0.8)}" y="${place(top + textPx * (1.3 + 1.45 * n))}" font-size="${place(textPx)}" fill="#ffffff">${words}</text>`;
  return markup`<g class="legend"><rect x="0" y="${place(top)}" width="${widthPx}" height="${place(strip)}" fill="#000000" fill-opacity="0.72"/>
${row(0, `${caption}: dashed where the layout has it, full where it was found, crossed where it was not`)}
${row(1, `bar: what is left after offset and turn, ${factor} times enlarged; ${isJudged ? `OUTSIDE its tolerance: ${outside} of ${features.length}` : 'no tolerance is stated'}`)}</g>`;
}
