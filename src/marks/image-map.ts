/** A first map from commanded positions to sensor pixels: good to about a pixel, for searching only. */

import type { SensorPoint } from '../quantity/index.js';

/**
 * Homography followed by radial distortion about a centre:
 * p = H (x, y, 1), q = centre + (p - centre)(1 + k1 r² + k2 r⁴), r = |p - centre| / radiusPx.
 */
export interface ImageMap {
  /** 3×3, row-major, mm → px without distortion. */
  readonly homography: Float64Array;
  readonly centrePx: readonly [number, number];
  /** Normaliser of r: half the picture's diagonal, px. */
  readonly radiusPx: number;
  readonly k1: number;
  readonly k2: number;
}

/** Where a commanded position (mm) is expected in the picture (px, sensor frame). */
export function imageFromCommanded(map: ImageMap, xMm: number, yMm: number): SensorPoint {
  const h = map.homography;
  const w = h[6] * xMm + h[7] * yMm + h[8];
  const du = (h[0] * xMm + h[1] * yMm + h[2]) / w - map.centrePx[0];
  const dv = (h[3] * xMm + h[4] * yMm + h[5]) / w - map.centrePx[1];
  const r2 = (du * du + dv * dv) / (map.radiusPx * map.radiusPx);
  const swell = 1 + r2 * (map.k1 + r2 * map.k2);
  return [map.centrePx[0] + du * swell, map.centrePx[1] + dv * swell];
}

/** Rounds in which a distortion of some percent settles to far below a pixel. */
const UNDISTORT_ROUNDS = 10;

/** The commanded position (mm) that is expected at a pixel; the inverse of `imageFromCommanded`. */
export function commandedFromImage(
  map: ImageMap,
  [uPx, vPx]: SensorPoint,
): readonly [number, number] {
  const du = uPx - map.centrePx[0];
  const dv = vPx - map.centrePx[1];
  let swell = 1;
  for (let round = 0; round < UNDISTORT_ROUNDS; round++) {
    const r2 = (du * du + dv * dv) / (swell * map.radiusPx) ** 2;
    swell = 1 + r2 * (map.k1 + r2 * map.k2);
  }
  const [u, v] = [map.centrePx[0] + du / swell, map.centrePx[1] + dv / swell];
  // Two linear equations in x and y: (h1 - u h3)·(x, y, 1) = 0 and (h2 - v h3)·(x, y, 1) = 0.
  const h = map.homography;
  const [a, b, e] = [h[0] - u * h[6], h[1] - u * h[7], h[2] - u * h[8]];
  const [c, d, f] = [h[3] - v * h[6], h[4] - v * h[7], h[5] - v * h[8]];
  const determinant = a * d - b * c;
  return [(b * f - d * e) / determinant, (c * e - a * f) / determinant];
}

/** The map into a picture whose pixels are so many of this one's: to = (from + 0.5)·factor - 0.5. */
export function scaledMap(map: ImageMap, factor: number): ImageMap {
  const shift = (factor - 1) / 2;
  const h = map.homography;
  return {
    ...map,
    homography: Float64Array.from(h, (value, i) =>
      i < 6 ? factor * value + shift * h[6 + (i % 3)] : value,
    ),
    centrePx: [factor * map.centrePx[0] + shift, factor * map.centrePx[1] + shift],
    radiusPx: factor * map.radiusPx,
  };
}

/** Radius within which the polynomial of a fitted distortion is believed; half diagonals, undistorted. */
const BELIEVED_RADIUS = 1.5;

/**
 * False far outside the picture, where the distortion's polynomial may fold back into it, and behind the
 * camera: a mark commanded there is not in the picture whatever the map says.
 */
export function isBelieved({ homography, centrePx, radiusPx }: ImageMap, x: number, y: number) {
  const h = homography;
  const w = h[6] * x + h[7] * y + h[8];
  if (!(w * h[8] > 0)) return false;
  const du = (h[0] * x + h[1] * y + h[2]) / w - centrePx[0];
  const dv = (h[3] * x + h[4] * y + h[5]) / w - centrePx[1];
  return Math.hypot(du, dv) < BELIEVED_RADIUS * radiusPx;
}
