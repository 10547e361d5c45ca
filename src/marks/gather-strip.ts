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

/** Arrays for one strip after the other. */
export class StripRoom {
  across = new Float32Array(0);
  along = new Float32Array(0);
  value = new Uint8Array(0);

  reserve(pixels: number): void {
    if (this.across.length >= pixels) return;
    this.across = new Float32Array(2 * pixels);
    this.along = new Float32Array(2 * pixels);
    this.value = new Uint8Array(2 * pixels);
  }
}

/**
 * Collects every pixel whose centre lies within the strip; nothing is interpolated.
 *
 * @param halfPx half-width of the strip; px.
 * @param trimPx cut off at either end; px.
 * @param room what a strip is written into that is done with before the next one; else each has its own.
 * @returns undefined where part of the strip lies outside the picture.
 */
export function gatherStrip(
  grey: GreyImage,
  place: SegmentPlace,
  halfPx: number,
  trimPx = 0,
  room?: StripRoom,
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

  const most = Math.ceil((lengthPx + 4) * (2 * wide + 4));
  room?.reserve(most);
  const across = room?.across ?? new Float32Array(most);
  const along = room?.along ?? new Float32Array(most);
  const value = room?.value ?? new Uint8Array(most);
  const { width, data } = grey;
  let count = 0;
  const leftmost = uPx - extentU;
  const rightmost = uPx + extentU;
  const lastRow = Math.floor(vPx + extentV);
  for (let v = Math.ceil(vPx - extentV); v <= lastRow; v++) {
    const dv = v - vPx;
    // |du nu + dv nv| ≤ wide and |-du nv + dv nu| ≤ half, solved for du.
    const tRow = dv * nu;
    const dRow = dv * nv;
    const low = Math.max(lowest(nu, dRow, wide), lowest(-nv, tRow, half));
    const high = Math.min(highest(nu, dRow, wide), highest(-nv, tRow, half));
    const first = Math.max(Math.ceil(leftmost), Math.ceil(uPx + low));
    const last = Math.min(Math.floor(rightmost), Math.floor(uPx + high));
    const row = v * width;
    for (let u = first; u <= last; u++) {
      const du = u - uPx;
      const t = tRow - du * nv;
      const d = du * nu + dRow - bend * t * t;
      if (d < -halfPx || d > halfPx) continue;
      across[count] = d;
      along[count] = t;
      value[count] = data[row + u];
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

/** Least x with |slope·x + offset| ≤ limit; two functions, since a pair per row would be an object per row. */
function lowest(slope: number, offset: number, limit: number): number {
  if (Math.abs(slope) < Number.EPSILON) {
    return Math.abs(offset) <= limit ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  }
  return ((slope > 0 ? -limit : limit) - offset) / slope;
}

/** The largest such x. */
function highest(slope: number, offset: number, limit: number): number {
  return -lowest(-slope, offset, limit);
}
