/** What lies on a drawn board and is no mark: painted over the finished picture, edges as sharp as the pixels. */

import type { DrawnPicture } from './straight-marks.js';

/** Paints every pixel within the shape; `cover` is the share of the pixel's place that is covered. */
export function paint(
  { grey: { width, height, data } }: DrawnPicture,
  cover: (u: number, v: number) => number,
  greyOf: (under: number) => number,
): void {
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) {
      const share = Math.min(1, Math.max(0, cover(u, v)));
      if (share === 0) continue;
      const under = data[v * width + u];
      data[v * width + u] = Math.max(
        0,
        Math.min(255, Math.round((1 - share) * under + share * greyOf(under))),
      );
    }
  }
}

/** A round cover over this share of the picture about a place given in shares of its size. */
export function coverDisc(
  drawn: DrawnPicture,
  share: number,
  [x, y]: readonly [number, number],
  grey: number,
): void {
  const { width, height } = drawn.grey;
  const radius = Math.sqrt((share * width * height) / Math.PI);
  paint(
    drawn,
    (u, v) => radius - Math.hypot(u - x * width, v - y * height),
    () => grey,
  );
}

/** A place on the board: from the middle of a stroke's mark across it, and commanded mm along it. */
export interface BesideMark {
  readonly isX: boolean;
  /** Commanded place of the line; mm. */
  readonly lineMm: number;
  readonly fromMm: number;
  readonly toMm: number;
  /** From the line, towards the rising coordinate; px. */
  readonly offPx: number;
  readonly widthPx: number;
}

/** A straight scratch beside a line, over part of it. */
export function scratch(drawn: DrawnPicture, place: BesideMark, share: number): void {
  const across = acrossAndAlong(drawn, place);
  paint(
    drawn,
    (u, v) => {
      const [d, t] = across(u, v);
      if (t < place.fromMm || t > place.toMm) return 0;
      return place.widthPx / 2 + 0.5 - Math.abs(d - place.offPx);
    },
    (under) => under * share,
  );
}

/** Everything on the rising side of an edge along a line, over part of it: a clamp's or a stain's. */
export function edgeAlong(
  drawn: DrawnPicture,
  place: BesideMark,
  greyOf: (under: number) => number,
): void {
  const across = acrossAndAlong(drawn, place);
  paint(
    drawn,
    (u, v) => {
      const [d, t] = across(u, v);
      if (t < place.fromMm || t > place.toMm || d > place.offPx + place.widthPx) return 0;
      return d - place.offPx + 0.5;
    },
    greyOf,
  );
}

/** Distance across in px and place along in mm, from pixels. */
function acrossAndAlong({ pxFromMm, board }: DrawnPicture, { isX, lineMm }: BesideMark) {
  const [u0, v0] = pxFromMm(0, 0);
  const [c, s] = board.uPerMm;
  const scale = Math.hypot(c, s);
  return (u: number, v: number): [number, number] => {
    const x = (c * (u - u0) + s * (v - v0)) / scale ** 2;
    const y = (s * (u - u0) - c * (v - v0)) / scale ** 2;
    return isX ? [(x - lineMm) * scale, y] : [(y - lineMm) * scale, x];
  };
}
