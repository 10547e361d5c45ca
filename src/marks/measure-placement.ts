/** Figures of a placement: its shape, its gaps in the picture, and how closely the marks follow it. */

import type { LineSighting } from './fit-image-map.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import type { ProgramGrid } from './program-grid.js';

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

/** Standard deviation of the marks across their lines, robust; px. */
export function scatterOf(map: ImageMap, sightings: readonly LineSighting[]): number {
  const off = sightings.map((s) => {
    const [u, v] = imageFromCommanded(map, s.xMm, s.yMm);
    return Math.abs((s.uPx - u) * s.normalU + (s.vPx - v) * s.normalV);
  });
  off.sort((a, b) => a - b);
  // 1.4826: median absolute deviation to standard deviation of a normal scatter.
  return 1.4826 * (off[off.length >> 1] ?? 0);
}

/** The narrower usual gap between neighbouring lines, in the middle of the grid; px. */
export function pitchOf(map: ImageMap, grid: ProgramGrid): number {
  const x = (grid.xs[0] + grid.xs[grid.xs.length - 1]) / 2;
  const y = (grid.ys[0] + grid.ys[grid.ys.length - 1]) / 2;
  const at = imageFromCommanded(map, x, y);
  const right = imageFromCommanded(map, x + grid.pitchMm[0], y);
  const up = imageFromCommanded(map, x, y + grid.pitchMm[1]);
  return Math.min(
    Math.hypot(right[0] - at[0], right[1] - at[1]),
    Math.hypot(up[0] - at[0], up[1] - at[1]),
  );
}
