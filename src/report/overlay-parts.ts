/** What drawings over photos share: sizes, text that can be read on any wood, the origin and the axes. */

import type { DisplayFrame } from '../imaging/index.js';
import { type Markup, markup } from './escape-markup.js';
import type { OverlayCorner } from './overlay-content.js';

/** Lines: X turquoise, Y orange; both stand out from wood and burnt marks, and from each other. */
export const LINE_COLOUR = { x: '#00c8ff', y: '#ffb000' } as const;
/** Part of the picture's width. */
const TEXT_SHARE = 1 / 62;

export type OverlayFrame = Pick<DisplayFrame, 'widthPx' | 'heightPx' | 'displayFromSensor'>;

export interface Drawing extends OverlayFrame {
  /** Display pixels per sensor pixel. */
  readonly scale: number;
  readonly textPx: number;
  readonly linePx: number;
}

export function makeDrawing(frame: OverlayFrame): Drawing {
  const { widthPx, displayFromSensor } = frame;
  const [zero, one] = [displayFromSensor([0, 0]), displayFromSensor([1, 0])];
  return {
    ...frame,
    scale: Math.hypot(one[0] - zero[0], one[1] - zero[1]),
    textPx: Math.max(9, widthPx * TEXT_SHARE),
    linePx: Math.max(1, widthPx / 1400),
  };
}

/** The lowest commanded crossing, with arrows toward its neighbours along X and Y. */
export function drawOrigin(
  corners: readonly OverlayCorner[],
  drawing: Drawing,
): Markup | undefined {
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
export function label(
  text: string,
  [x, y]: readonly [number, number],
  anchor: 'start' | 'middle',
  { textPx }: Drawing,
): Markup {
  const attributes = markup`x="${place(x)}" y="${place(y + textPx * 0.35)}" font-size="${place(textPx)}" font-weight="bold" text-anchor="${anchor}"`;
  return markup`<text ${attributes} fill="none" stroke="#000000" stroke-width="${place(textPx / 4)}" stroke-linejoin="round">${text}</text><text ${attributes} fill="#ffffff">${text}</text>`;
}

export function pair([x, y]: readonly [number, number]): string {
  return `${place(x)},${place(y)}`;
}

/** Hundredths of a display pixel. */
export function place(value: number): string {
  return String(Math.round(value * 100) / 100);
}
