/** A photo without the marks of one program: what lies beside a mark is drawn across it. */

import type { Stroke } from '../../shared/stroke.js';
import type { GreyImage } from '../quantity/index.js';
import type { LatticeFit } from './finish-placement.js';
import { type ImageMap, imageFromCommanded, isBelieved } from './image-map.js';

/** Steps along a mark; px. Less than one, or pixels are missed where it runs aslant. */
const STEP_PX = 0.6;
/** To either side, in widths of the mark: its edges and the scorch beside it. */
const HALF_WIDTHS = 1.1;
/** And what places of marks scatter about the map by, and a soft edge; px. */
const SOFT_PX = 2;
const SCATTERS = 2;
/** How much of the board beside it is averaged; px. */
const BESIDE_PX = 3;

/**
 * @param strokes all that the program marked.
 * @param fit where they were found.
 * @returns a copy. Where a mark of another program crosses, that is what lies beside: it is drawn on.
 */
export function maskMarks(
  grey: GreyImage,
  strokes: readonly Stroke[],
  { map, markWidthPx, scatterPx }: Pick<LatticeFit, 'map' | 'markWidthPx' | 'scatterPx'>,
): GreyImage {
  const masked = { ...grey, data: grey.data.slice() };
  const half = Math.ceil(HALF_WIDTHS * markWidthPx + SCATTERS * scatterPx + SOFT_PX);
  for (const { fromMm, toMm } of strokes) maskStroke(grey, masked, map, fromMm, toMm, half);
  return masked;
}

function maskStroke(
  grey: GreyImage,
  masked: GreyImage,
  map: ImageMap,
  fromMm: readonly [number, number],
  toMm: readonly [number, number],
  half: number,
): void {
  const at = (share: number) =>
    imageFromCommanded(
      map,
      fromMm[0] + share * (toMm[0] - fromMm[0]),
      fromMm[1] + share * (toMm[1] - fromMm[1]),
    );
  const [start, end] = [at(0), at(1)];
  const lengthPx = Math.hypot(end[0] - start[0], end[1] - start[1]);
  if (!(lengthPx > 0) || !isBelieved(map, ...fromMm) || !isBelieved(map, ...toMm)) return;
  // Ends burn wider, and may lie a little beyond.
  const beyond = half / lengthPx;
  const steps = Math.ceil((lengthPx + 2 * half) / STEP_PX);
  for (let k = 0; k <= steps; k++) {
    const share = -beyond + ((1 + 2 * beyond) * k) / steps;
    const [u, v] = at(share);
    const [nextU, nextV] = at(share + 1 / lengthPx);
    const length = Math.hypot(nextU - u, nextV - v);
    maskAcross(grey, masked, u, v, -(nextV - v) / length, (nextU - u) / length, half);
  }
}

function maskAcross(
  grey: GreyImage,
  masked: GreyImage,
  u: number,
  v: number,
  normalU: number,
  normalV: number,
  half: number,
): void {
  const { width, height, data } = grey;
  const indexAt = (offset: number) => {
    const x = Math.round(u + offset * normalU);
    const y = Math.round(v + offset * normalV);
    return x >= 0 && y >= 0 && x < width && y < height ? y * width + x : -1;
  };
  const beside = (side: 1 | -1) => {
    let sum = 0;
    let count = 0;
    for (let o = half + 1; o <= half + BESIDE_PX; o++) {
      const i = indexAt(side * o);
      if (i < 0) continue;
      sum += data[i];
      count++;
    }
    return count > 0 ? sum / count : undefined;
  };
  const [low, high] = [beside(-1), beside(1)];
  if (low === undefined || high === undefined) return;
  for (let o = -half; o <= half; o += STEP_PX) {
    const i = indexAt(o);
    if (i >= 0) masked.data[i] = low + ((high - low) * (o + half)) / (2 * half);
  }
}
