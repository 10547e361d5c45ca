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
