/** The raw pixels beside a predicted mark, each with its distance across and along. */

import type { GreyImage } from '../quantity/index.js';
import type { SegmentPlace } from './place-segments.js';

/** Parallel arrays, one entry per pixel. */
export interface Strip {
  /** Signed distance from the predicted curve along its normal; px. */
  readonly across: Float32Array;
  /** Distance from the middle along the mark; px. */
  readonly along: Float32Array;
  /** Grey value. */
  readonly value: Uint8Array;
  readonly lengthPx: number;
}

/**
 * Collects every pixel whose centre lies within the strip; nothing is interpolated.
 *
 * @param halfPx half-width of the strip; px.
 * @param trimPx cut off at either end; px.
 * @returns undefined where part of the strip lies outside the picture.
 */
export function gatherStrip(
  grey: GreyImage,
  place: SegmentPlace,
  halfPx: number,
  trimPx = 0,
): Strip | undefined {
  const { uPx, vPx, normalU: nu, normalV: nv, bend } = place;
  const lengthPx = place.lengthPx - 2 * trimPx;
  const half = lengthPx / 2;
  const wide = halfPx + Math.abs(bend) * half * half;
  // Corners of the rectangle that holds the bent strip.
  const extentU = Math.abs(nv) * half + Math.abs(nu) * wide;
  const extentV = Math.abs(nu) * half + Math.abs(nv) * wide;
  const inside =
    uPx - extentU >= 0 &&
    vPx - extentV >= 0 &&
    uPx + extentU <= grey.width - 1 &&
    vPx + extentV <= grey.height - 1;
  if (!inside || !(lengthPx > 0)) return undefined;

  const room = Math.ceil((lengthPx + 4) * (2 * wide + 4));
  const across = new Float32Array(room);
  const along = new Float32Array(room);
  const value = new Uint8Array(room);
  let count = 0;
  const lastRow = Math.floor(vPx + extentV);
  for (let v = Math.ceil(vPx - extentV); v <= lastRow; v++) {
    const dv = v - vPx;
    // |du nu + dv nv| ≤ wide and |-du nv + dv nu| ≤ half, solved for du.
    const [a0, a1] = interval(nu, dv * nv, wide);
    const [b0, b1] = interval(-nv, dv * nu, half);
    const first = Math.max(Math.ceil(uPx - extentU), Math.ceil(uPx + Math.max(a0, b0)));
    const last = Math.min(Math.floor(uPx + extentU), Math.floor(uPx + Math.min(a1, b1)));
    for (let u = first; u <= last; u++) {
      const du = u - uPx;
      const t = dv * nu - du * nv;
      const d = du * nu + dv * nv - bend * t * t;
      if (d < -halfPx || d > halfPx) continue;
      across[count] = d;
      along[count] = t;
      value[count] = grey.data[v * grey.width + u];
      count++;
    }
  }
  return {
    // The room was reckoned closely: a copy would cost more than what is over.
    across: across.subarray(0, count),
    along: along.subarray(0, count),
    value: value.subarray(0, count),
    lengthPx,
  };
}

/** The x with |slope·x + offset| ≤ limit. */
function interval(slope: number, offset: number, limit: number): [number, number] {
  if (Math.abs(slope) < Number.EPSILON) {
    return Math.abs(offset) <= limit
      ? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
      : [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  }
  const a = (-limit - offset) / slope;
  const b = (limit - offset) / slope;
  return a < b ? [a, b] : [b, a];
}
