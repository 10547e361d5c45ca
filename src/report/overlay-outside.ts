/** Numbered signs on a photo at the lines and places that are out of tolerance, told apart by shape. */

import { type Markup, markup } from './escape-markup.js';
import type { OutsideKind, OutsideMark, OutsideMarks } from './outside-marks.js';
import type { OverlayContent, OverlayLine } from './overlay-content.js';
import { type Drawing, label, pair, place } from './overlay-parts.js';
import { QUANTITY_NAME } from './quantity-words.js';

type Pixel = readonly [x: number, y: number];

const COLOUR = '#ff5a5a';
/** Commanded positions this near are of the same line, mm. */
const SAME_MM = 1e-6;
/** Of the height of a letter: half a sign. */
const SIGN_SHARE = 0.58;
const NUMBER_SHARE = 0.56;

/** Whether a line has a sign, for those who draw it. */
export function isOutside(line: OverlayLine, outside: OutsideMarks | undefined): boolean {
  return outside?.marks.some((mark) => mark.kind !== 'bend' && isOf(mark, line)) === true;
}

function isOf({ axis, placement, atMm }: OutsideMark, line: OverlayLine): boolean {
  return (
    line.axis === axis && line.placement === placement && Math.abs(line.positionMm - atMm) < SAME_MM
  );
}

/** @param bottomPx where the legend begins. */
export function drawOutside(
  { lines, corners }: Pick<OverlayContent, 'lines' | 'corners'>,
  outside: OutsideMarks | undefined,
  bottomPx: number,
  drawing: Drawing,
): Markup | undefined {
  if (outside === undefined) return undefined;
  const area: Area = { ...drawing, bottomPx };
  const signs = outside.marks.flatMap((mark, i) => {
    const at = mark.kind === 'bend' ? bendAt(mark, lines, area) : endOf(mark, lines, i, area);
    return at === undefined ? [] : [drawSign(mark, at, drawing)];
  });
  return markup`<g class="outside">${signs}${outside.outside.includes('squareness') ? notSquare(corners, drawing) : undefined}</g>`;
}

interface Area extends Drawing {
  readonly bottomPx: number;
}

/** With room for a whole sign. */
function isInside([x, y]: Pixel, { widthPx, bottomPx, textPx }: Area): boolean {
  return x > textPx && y > textPx && x < widthPx - textPx && y < bottomPx - textPx;
}

/** Beyond the last point of the line that the picture shows: lost motion at its beginning, place at its end. */
function endOf(
  mark: OutsideMark,
  lines: readonly OverlayLine[],
  index: number,
  area: Area,
): Pixel | undefined {
  const line = lines.find((one) => isOf(mark, one));
  if (line === undefined) return undefined;
  const points = line.points.map((point) => area.displayFromSensor(point));
  if (mark.kind === 'place') points.reverse();
  const first = points.findIndex((point) => isInside(point, area));
  const next = points[first + 1];
  if (first < 0 || next === undefined) return undefined;
  const [x, y] = points[first]!;
  const far = Math.hypot(x - next[0], y - next[1]) || 1;
  // Neighbours lie near each other: every other sign stands farther out.
  const out = area.textPx * (index % 2 === 0 ? 1 : 2.4);
  const there: Pixel = [x + (out * (x - next[0])) / far, y + (out * (y - next[1])) / far];
  return isInside(there, area) ? there : [x, y];
}

/** On the middle one of the lines along the motion that the picture shows at that place. */
function bendAt(
  { axis, atMm }: OutsideMark,
  lines: readonly OverlayLine[],
  area: Area,
): Pixel | undefined {
  const along = lines.filter(
    (line) =>
      line.axis !== axis && line.placement === 0 && line.fromMm <= atMm && atMm <= line.toMm,
  );
  const seen = along.flatMap((line) => {
    const last = line.points.length - 1;
    const share = ((atMm - line.fromMm) / (line.toMm - line.fromMm || 1)) * last;
    const k = Math.min(last - 1, Math.floor(share));
    const [a, b] = [line.points[k]!, line.points[k + 1]!];
    const part = share - k;
    const at = area.displayFromSensor([a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])]);
    return isInside(at, area) ? [at] : [];
  });
  return seen[seen.length >> 1];
}

const SHAPE: Record<OutsideKind, (r: number) => readonly Pixel[]> = {
  'lost motion': (r) => [
    [-r, -r],
    [r, -r],
    [r, r],
    [-r, r],
  ],
  // Wide enough for its number.
  place: (r) => [
    [0, -1.7 * r],
    [1.6 * r, r],
    [-1.6 * r, r],
  ],
  bend: (r) => [
    [0, -1.6 * r],
    [1.6 * r, 0],
    [0, 1.6 * r],
    [-1.6 * r, 0],
  ],
};

function drawSign({ kind, number }: OutsideMark, [x, y]: Pixel, drawing: Drawing): Markup {
  const { textPx, linePx } = drawing;
  return markup`${signShape(kind, [x, y], textPx * SIGN_SHARE, linePx)}<text x="${place(x)}" y="${place(y + textPx * NUMBER_SHARE * 0.36)}" font-size="${place(textPx * NUMBER_SHARE)}" font-weight="bold" text-anchor="middle" fill="#ffffff">${number}</text>
`;
}

export function signShape(kind: OutsideKind, [x, y]: Pixel, r: number, linePx: number): Markup {
  const points = SHAPE[kind](r).map(([dx, dy]) => pair([x + dx, y + dy]));
  return markup`<polygon class="sign ${kind.replace(' ', '-')}" points="${points.join(' ')}" fill="#000000" fill-opacity="0.8" stroke="${COLOUR}" stroke-width="${place(1.5 * linePx)}"/>`;
}

/** Between the two axes, at the origin. */
function notSquare(corners: OverlayContent['corners'], drawing: Drawing): Markup | undefined {
  const lowX = Math.min(...corners.map(({ x }) => x));
  const lowY = Math.min(...corners.map(({ y }) => y));
  const origin = corners.find(({ x, y }) => x === lowX && y === lowY);
  const across = corners.find(({ x, y }) => x > lowX && y > lowY);
  if (origin === undefined || across === undefined) return undefined;
  const from = drawing.displayFromSensor([origin.u, origin.v]);
  const to = drawing.displayFromSensor([across.u, across.v]);
  // Beyond the arrows, which are a tenth of the picture at most.
  const share = 0.2;
  return label(
    'squareness OUTSIDE',
    [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])],
    'middle',
    drawing,
  );
}

export interface OutsideLegend {
  readonly words: string;
  /** Each kind of sign that occurs. */
  readonly signs: readonly { readonly kind: OutsideKind; readonly words: string }[];
}

const MEANING: Record<OutsideKind, string> = {
  'lost motion': 'lost motion of a line',
  place: 'line off its place',
  bend: 'bend of a travel',
};

/** What the legend says of them; undefined where nothing was measured. */
export function outsideLegend(outside: OutsideMarks | undefined): OutsideLegend | undefined {
  if (outside === undefined) return undefined;
  if (!outside.isJudged) return { words: 'no limit is stated: nothing is judged', signs: [] };
  const names = outside.outside.map(
    (what) => QUANTITY_NAME[what as keyof typeof QUANTITY_NAME] ?? what,
  );
  const kinds = (['lost motion', 'place', 'bend'] as const).flatMap((kind) => {
    const count = outside.marks.filter((mark) => mark.kind === kind).length;
    return count === 0 ? [] : [{ kind, words: `${MEANING[kind]} (${count})` }];
  });
  const words =
    names.length + kinds.length === 0
      ? 'nothing is told to be out of tolerance'
      : names.length === 0
        ? 'out of tolerance: single lines or places'
        : `out of tolerance: ${names.join(', ')}`;
  return { words, signs: kinds };
}
