/** How bright a picture, or a part of it, is. */

import type { GreyImage } from '../quantity/index.js';

export interface Exposure {
  /** Shares that are next to black and next to white. */
  readonly clippedDark: number;
  readonly clippedBright: number;
  /** Grey value, 0 to 255. */
  readonly medianGrey: number;
}

/**
 * Next to the ends of the scale there is no more light to tell apart. Compression rounds by some
 * grey values either way, so that a clipped place is not exactly at the end.
 */
const BLACK = 5;
const WHITE = 250;
/** Pixels looked at each way in a whole picture: a share to a thousandth, in no time. */
const PLACES_EACH_WAY = 500;

export function isClippedBright(grey: number): boolean {
  return grey >= WHITE;
}

/**
 * @param pointsPx n×2, row-major [u, v], px; those outside the picture are passed over. Without them:
 * the whole picture.
 * @returns undefined where no point lies inside.
 */
export function measureExposure(
  grey: GreyImage,
  pointsPx: Float64Array = everywhere(grey),
): Exposure | undefined {
  const counts = new Uint32Array(256);
  let total = 0;
  for (let i = 0; i + 1 < pointsPx.length; i += 2) {
    const u = Math.round(pointsPx[i]);
    const v = Math.round(pointsPx[i + 1]);
    if (!(u >= 0 && v >= 0 && u < grey.width && v < grey.height)) continue;
    counts[grey.data[v * grey.width + u]]++;
    total++;
  }
  if (total === 0) return undefined;
  let dark = 0;
  let bright = 0;
  let below = 0;
  let medianGrey = -1;
  counts.forEach((count, level) => {
    if (level <= BLACK) dark += count;
    if (isClippedBright(level)) bright += count;
    below += count;
    if (medianGrey < 0 && 2 * below >= total) medianGrey = level;
  });
  return { clippedDark: dark / total, clippedBright: bright / total, medianGrey };
}

function everywhere({ width, height }: GreyImage): Float64Array {
  const points = new Float64Array(2 * PLACES_EACH_WAY * PLACES_EACH_WAY);
  let at = 0;
  for (let j = 0; j < PLACES_EACH_WAY; j++) {
    for (let i = 0; i < PLACES_EACH_WAY; i++) {
      points[at++] = ((i + 0.5) * width) / PLACES_EACH_WAY - 0.5;
      points[at++] = ((j + 0.5) * height) / PLACES_EACH_WAY - 0.5;
    }
  }
  return points;
}
