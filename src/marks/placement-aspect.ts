/** The shape of a commanded square that a placement implies, told by a plain camera. */

import type { ImageMap } from './image-map.js';

/**
 * Ratio of the board scales along Y and X that a camera with square pixels and its principal point in
 * the picture's centre would have to have seen. The principal distance comes from the right angle of
 * the axes where the tilt shows it, else a usual phone's is taken.
 */
export function aspectOf(map: ImageMap): number {
  const h = map.homography;
  const [cu, cv] = map.centrePx;
  const x = [h[0] - cu * h[6], h[3] - cv * h[6], h[6]];
  const y = [h[1] - cu * h[7], h[4] - cv * h[7], h[7]];
  const usual = 1.2 * map.radiusPx;
  const dot = -(x[0] * y[0] + x[1] * y[1]);
  const seen = dot / (x[2] * y[2]);
  const told =
    Math.abs(x[2] * y[2]) * usual * usual > 0.02 * Math.hypot(x[0], x[1]) * Math.hypot(y[0], y[1]);
  const f2 = told && seen > (0.6 * usual) ** 2 && seen < (2 * usual) ** 2 ? seen : usual * usual;
  const length = (a: readonly number[]) => Math.sqrt(a[0] ** 2 + a[1] ** 2 + f2 * a[2] ** 2);
  return length(y) / length(x);
}
