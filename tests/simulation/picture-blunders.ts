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
