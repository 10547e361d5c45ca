/** Where in a picture something lies, in people's words. */

import type { PicturePlace } from '../../shared/schemas/photo-verdict.js';

/** In the displayed picture: x right, y down. */
export interface PictureBox {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

type Point = readonly [x: number, y: number];

/** A place is named from this share of the points on: nine places hold a ninth each where they lie all over. */
const NAMED_SHARE = 0.2;

export function boxOf(points: readonly Point[]): PictureBox {
  const box = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity };
  for (const [x, y] of points) {
    box.left = Math.min(box.left, x);
    box.right = Math.max(box.right, x);
    box.top = Math.min(box.top, y);
    box.bottom = Math.max(box.bottom, y);
  }
  return box;
}

/** The third of the box, each way, in which a point lies. */
export function placeOf([x, y]: Point, { left, top, right, bottom }: PictureBox): PicturePlace {
  const third = (at: number, from: number, to: number) =>
    Math.min(2, Math.max(0, Math.floor((3 * (at - from)) / (to - from))));
  const row = ['top', '', 'bottom'][third(y, top, bottom)];
  const column = ['left', '', 'right'][third(x, left, right)];
  const name = `${row} ${column}`.trim();
  return (name === '' ? 'middle' : name) as PicturePlace;
}

/** The places that hold much of the points, most first; none where they lie all over. */
export function rankPlaces(points: readonly Point[], box: PictureBox): PicturePlace[] {
  const counts = new Map<PicturePlace, number>();
  for (const point of points) {
    const place = placeOf(point, box);
    counts.set(place, (counts.get(place) ?? 0) + 1);
  }
  return [...counts]
    .filter(([, count]) => count >= NAMED_SHARE * points.length)
    .sort((a, b) => b[1] - a[1])
    .map(([place]) => place);
}
