/** A picture of what a program marks and cuts, true to scale, seen from above. */

import type { Approach, Stroke } from '../../shared/stroke.js';
import { type Markup, markup } from '../report/index.js';

export interface PreviewHole {
  readonly centreMm: readonly [x: number, y: number];
  /** As cut or, where the tool is not known, the path of its centre; 0 unknown. */
  readonly diametersMm: readonly number[];
  /** Shown in the colour of what is wrong. */
  readonly isSuspect: boolean;
}

export interface PreviewContent {
  readonly title: string;
  readonly strokes: readonly Pick<Stroke, 'fromMm' | 'toMm' | 'approachX' | 'approachY'>[];
  readonly holes: readonly PreviewHole[];
  /** Ends of the travel in commanded coordinates, where known. */
  readonly travelMm?: {
    readonly x: readonly [number, number];
    readonly y: readonly [number, number];
  };
}

type Box = { x: [number, number]; y: [number, number] };

/** Approached from the low side, from the high side, unknown: told apart without colour by the dash. */
const LINE_STYLE: Record<Approach, { colour: string; dash: string; name: string }> = {
  1: { colour: '#0a5fb4', dash: '', name: 'reached moving toward +' },
  [-1]: { colour: '#b4410a', dash: '6 2', name: 'reached moving toward −' },
  0: { colour: '#555555', dash: '1 2', name: 'approach not known' },
};
const SUSPECT_COLOUR = '#d00030';
const HOLE_COLOUR = '#207040';
/** Width of the picture on a screen, px. */
const WIDTH_PX = 1400;
/** Border around everything, as a part of the larger side. */
const BORDER_SHARE = 0.04;
/** A hole of unknown size, as a part of the larger side. */
const SPOT_SHARE = 0.004;

/** Draws a whole SVG document; X to the right, Y up, one user unit is one mm. */
export function previewSvg(content: PreviewContent): string {
  const box = boundsOf(content);
  const size = Math.max(box.x[1] - box.x[0], box.y[1] - box.y[0], 1);
  const border = BORDER_SHARE * size;
  const text = size / 55;
  const legend = 5 * text;
  const [left, top] = [box.x[0] - border, -box.y[1] - border];
  const width = box.x[1] - box.x[0] + 2 * border;
  const height = box.y[1] - box.y[0] + 2 * border + legend;
  return markup`<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH_PX}" height="${Math.round((WIDTH_PX * height) / width)}" viewBox="${tidy(left)} ${tidy(top)} ${tidy(width)} ${tidy(height)}" font-family="sans-serif">
<rect x="${tidy(left)}" y="${tidy(top)}" width="${tidy(width)}" height="${tidy(height)}" fill="#ffffff"/>
<title>${content.title}</title>
${content.travelMm === undefined ? undefined : drawTravel(content.travelMm, size)}
<g fill="none" stroke-width="${tidy(size / 900)}">${content.strokes.map((stroke) => drawStroke(stroke))}</g>
<g fill="none" stroke-width="${tidy(size / 700)}">${content.holes.map((hole) => drawHole(hole, size))}</g>
${drawOrigin(size)}
${drawLegend(content, left + border, -box.y[0] + border, text)}
</svg>
`.text;
}

function boundsOf({ strokes, holes, travelMm }: PreviewContent): Box {
  const places: (readonly [number, number])[] = [
    [0, 0],
    ...strokes.flatMap(({ fromMm, toMm }) => [fromMm, toMm]),
    ...holes.map(({ centreMm }) => centreMm),
    ...(travelMm === undefined
      ? []
      : [[travelMm.x[0], travelMm.y[0]] as const, [travelMm.x[1], travelMm.y[1]] as const]),
  ];
  const box: Box = { x: [0, 0], y: [0, 0] };
  for (const [x, y] of places) {
    box.x = [Math.min(box.x[0], x), Math.max(box.x[1], x)];
    box.y = [Math.min(box.y[0], y), Math.max(box.y[1], y)];
  }
  return box;
}

function drawTravel({ x, y }: NonNullable<PreviewContent['travelMm']>, size: number): Markup {
  return markup`<rect x="${tidy(x[0])}" y="${tidy(-y[1])}" width="${tidy(x[1] - x[0])}" height="${tidy(y[1] - y[0])}" fill="#f4f6f8" stroke="#98a4b0" stroke-width="${tidy(size / 1200)}"/>`;
}

function drawStroke({
  fromMm,
  toMm,
  approachX,
  approachY,
}: PreviewContent['strokes'][number]): Markup {
  // The approach across it is what a line can tell.
  const approach = fromMm[0] === toMm[0] ? approachX : approachY;
  const { colour, dash } = LINE_STYLE[approach];
  return markup`<path d="M${tidy(fromMm[0])} ${tidy(-fromMm[1])}L${tidy(toMm[0])} ${tidy(-toMm[1])}" stroke="${colour}" stroke-dasharray="${dash === '' ? 'none' : dash}"/>
`;
}

function drawHole({ centreMm, diametersMm, isSuspect }: PreviewHole, size: number): Markup {
  const [x, y] = [tidy(centreMm[0]), tidy(-centreMm[1])];
  const colour = isSuspect ? SUSPECT_COLOUR : HOLE_COLOUR;
  const known = diametersMm.filter((diameter) => diameter > 0);
  const radii = known.length > 0 ? known.map((diameter) => diameter / 2) : [size * SPOT_SHARE];
  const arm = Math.max(...radii) * 1.6;
  return markup`${radii.map((radius) => markup`<circle cx="${x}" cy="${y}" r="${tidy(radius)}" stroke="${colour}"/>`)}${
    isSuspect
      ? markup`<path d="M${tidy(x - arm)} ${tidy(y - arm)}L${tidy(x + arm)} ${tidy(y + arm)}M${tidy(x - arm)} ${tidy(y + arm)}L${tidy(x + arm)} ${tidy(y - arm)}" stroke="${colour}"/>`
      : undefined
  }
`;
}

function drawOrigin(size: number): Markup {
  return markup`<circle cx="0" cy="0" r="${tidy(size / 180)}" fill="none" stroke="#000000" stroke-width="${tidy(size / 600)}"/>`;
}

function drawLegend(
  { strokes, holes, title }: PreviewContent,
  left: number,
  top: number,
  text: number,
): Markup {
  const used = ([1, -1, 0] as const).filter((approach) =>
    strokes.some(
      ({ fromMm, toMm, approachX, approachY }) =>
        (fromMm[0] === toMm[0] ? approachX : approachY) === approach,
    ),
  );
  const entries = [
    ...used.map((approach) => ({ ...LINE_STYLE[approach], what: LINE_STYLE[approach].name })),
    ...(holes.some((hole) => hole.isSuspect)
      ? [{ colour: SUSPECT_COLOUR, dash: '', what: 'hole off its lines' }]
      : []),
  ];
  return markup`<g font-size="${tidy(text)}" fill="#202020"><text x="${tidy(left)}" y="${tidy(top + text)}">${title}; ring: X0 Y0</text>
${entries.map(
  ({ colour, dash, what }, i) =>
    markup`<path d="M${tidy(left + i * 17 * text)} ${tidy(top + 2.4 * text)}h${tidy(2 * text)}" stroke="${colour}" stroke-width="${tidy(text / 8)}" stroke-dasharray="${dash === '' ? 'none' : dash}"/><text x="${tidy(left + (i * 17 + 2.4) * text)}" y="${tidy(top + 2.75 * text)}">${what}</text>`,
)}</g>`;
}

function tidy(value: number): number {
  return Number(value.toFixed(3)) + 0;
}
