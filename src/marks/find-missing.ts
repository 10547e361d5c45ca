/** Marks that lie in the picture and were not measured: where, and in what light. */

import type { PicturePlace } from '../../shared/schemas/photo-verdict.js';
import {
  type DisplayFrame,
  isClippedBright,
  type PictureBox,
  rankPlaces,
} from '../imaging/index.js';
import { median } from '../numerics/index.js';
import type { BoardSegment } from '../program/index.js';
import type { GreyImage } from '../quantity/index.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import type { MeasuredMarks } from './measure-segments.js';

export interface MissingMarks {
  readonly light: 'bright' | 'dark' | 'normal';
  /** Share of the segments that were looked for. */
  readonly share: number;
  readonly where: readonly PicturePlace[];
}

/** Nearer to the picture's border a mark's own surroundings are cut off: not counted either way; px. */
const BORDER_PX = 50;
/** Between the marks nothing clips but glare; a tenth tells it from grain. */
const BRIGHT_SHARE = 0.1;
/**
 * sRGB 20 is 0.7 % of white: a mark of usual contrast is 8 grey values deep there, what JPEG at the
 * quality of phones rounds away in fine detail.
 */
const DARK_GREY = 20;
const ALONG = 12;
/** Half-width that is looked at, in widths of the mark, and rows in it. */
const HALF_WIDTHS = 2;
const ACROSS = 9;
/** Order in which the kinds are told. */
const LIGHTS = ['bright', 'dark', 'normal'] as const;

/**
 * @param frame of the whole picture, not shrunk.
 * @param box of the grid in it, displayed px.
 */
export function findMissing(
  grey: GreyImage,
  segments: readonly BoardSegment[],
  marks: MeasuredMarks,
  frame: DisplayFrame,
  box: PictureBox,
): MissingMarks[] {
  const found = new Set(marks.observations.map(({ segmentId }) => segmentId));
  const widthPx = median(marks.families.map((family) => family.widthPx));
  const lost: { light: MissingMarks['light']; at: readonly [number, number] }[] = [];
  let lookedFor = 0;
  for (const segment of segments) {
    if (found.has(segment.id)) {
      lookedFor++;
      continue;
    }
    if (!isWellInside(segment, marks.map, grey)) continue;
    lookedFor++;
    const middle = imageFromCommanded(marks.map, ...middleOf(segment));
    lost.push({
      light: lightOn(grey, segment, marks.map, widthPx),
      at: frame.displayFromSensor(middle),
    });
  }
  return LIGHTS.flatMap((light) => {
    const own = lost.filter((one) => one.light === light);
    if (own.length === 0) return [];
    const where = rankPlaces(
      own.map(({ at }) => at),
      box,
    );
    return { light, share: own.length / lookedFor, where };
  });
}

function middleOf({ fromMm, toMm }: BoardSegment): [number, number] {
  return [(fromMm[0] + toMm[0]) / 2, (fromMm[1] + toMm[1]) / 2];
}

function isWellInside({ fromMm, toMm }: BoardSegment, map: ImageMap, grey: GreyImage): boolean {
  return [fromMm, toMm].every((end) => {
    const [u, v] = imageFromCommanded(map, end[0], end[1]);
    return (
      u >= BORDER_PX && v >= BORDER_PX && u < grey.width - BORDER_PX && v < grey.height - BORDER_PX
    );
  });
}

function lightOn(
  grey: GreyImage,
  { fromMm, toMm }: BoardSegment,
  map: ImageMap,
  widthPx: number,
): MissingMarks['light'] {
  const [u0, v0] = imageFromCommanded(map, fromMm[0], fromMm[1]);
  const [u1, v1] = imageFromCommanded(map, toMm[0], toMm[1]);
  const length = Math.hypot(u1 - u0, v1 - v0);
  const values: number[] = [];
  for (let i = 0; i < ALONG; i++) {
    const t = (i + 0.5) / ALONG;
    for (let k = 0; k < ACROSS; k++) {
      const off = HALF_WIDTHS * widthPx * ((2 * k) / (ACROSS - 1) - 1);
      const u = Math.round(u0 + t * (u1 - u0) - (off * (v1 - v0)) / length);
      const v = Math.round(v0 + t * (v1 - v0) + (off * (u1 - u0)) / length);
      if (u >= 0 && v >= 0 && u < grey.width && v < grey.height) {
        values.push(grey.data[v * grey.width + u]);
      }
    }
  }
  const clipped = values.filter(isClippedBright).length;
  if (clipped >= BRIGHT_SHARE * values.length) return 'bright';
  return median(values) <= DARK_GREY ? 'dark' : 'normal';
}
