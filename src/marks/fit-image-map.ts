/** Least-squares fit of an image map to places seen across its lines. */

import { backSubstitute, factorise, forwardSubstitute } from '../numerics/index.js';
import type { ImageMap } from './image-map.js';

/** A place on a commanded line and where, across that line, its mark is seen. */
export interface LineSighting {
  readonly xMm: number;
  readonly yMm: number;
  /** A point on the seen mark; px. */
  readonly uPx: number;
  readonly vPx: number;
  /** Unit normal of the line in the picture. */
  readonly normalU: number;
  readonly normalV: number;
  /** 0: a line along Y, 1: along X, 2: another mark. */
  readonly family: 0 | 1 | 2;
}

/** Sightings scatter by at least this; px. Scales the robust weights once the fit is close. */
const SCATTER_PX = 0.5;
/** Phone lenses after the maker's own correction stay within this at the corner. */
const USUAL_DISTORTION = 0.1;
/** Fewer sightings than this carry no second distortion term. */
const FEWEST_FOR_K2 = 150;
const ROUNDS = 6;

/** @returns the refined map, or undefined where the sightings fix none. */
export function fitImageMap(start: ImageMap, seen: readonly LineSighting[]): ImageMap | undefined {
  if (seen.length < 12) return undefined;
  const frame = commandedFrame(seen);
  const size = seen.length < FEWEST_FOR_K2 ? 9 : 10;
  let h = normalised(start, frame);
  let k = [start.k1, size === 10 ? start.k2 : 0];
  for (let round = 0; round < ROUNDS; round++) {
    const matrix = new Float64Array(size * size);
    const right = new Float64Array(size);
    const row = new Float64Array(10);
    const off = seen.map((s) => Math.abs(linearise(s, start, frame, h, k, row)));
    // 1.4826: median absolute deviation to standard deviation of a normal scatter.
    const median = Float64Array.from(off).sort()[off.length >> 1];
    const scatter = Math.max(SCATTER_PX, 1.4826 * median);
    for (const s of seen) {
      const residual = linearise(s, start, frame, h, k, row);
      // Geman-McClure weight: a mark of another line loses its say instead of bending the map.
      const weight = 1 / (1 + (residual / (2 * scatter)) ** 2) ** 2;
      for (let i = 0; i < size; i++) {
        right[i] += weight * row[i] * residual;
        for (let j = 0; j <= i; j++) matrix[i * size + j] += weight * row[i] * row[j];
      }
    }
    for (let i = 8; i < size; i++) {
      const prior = (SCATTER_PX / USUAL_DISTORTION) ** 2;
      matrix[i * size + i] += prior;
      right[i] -= prior * k[i - 8];
    }
    if (!factorise(matrix, size, size * Number.EPSILON)) return undefined;
    const step = backSubstitute(matrix, size, forwardSubstitute(matrix, size, right));
    h = h.map((value, i) => (i < 8 ? value + step[i] : value));
    k = [k[0] + step[8], size === 10 ? k[1] + step[9] : 0];
    if (h.some((value) => !Number.isFinite(value))) return undefined;
  }
  return { ...start, homography: denormalised(h, start, frame), k1: k[0], k2: k[1] };
}

interface Frame {
  readonly x: number;
  readonly y: number;
  readonly scale: number;
}

function commandedFrame(seen: readonly LineSighting[]): Frame {
  let x = 0;
  let y = 0;
  for (const s of seen) {
    x += s.xMm / seen.length;
    y += s.yMm / seen.length;
  }
  let scale = 0;
  for (const s of seen) scale = Math.max(scale, Math.abs(s.xMm - x), Math.abs(s.yMm - y));
  return { x, y, scale };
}

/** H for p = (x - x0)/scale, q = (u - centre)/radius, last element 1. */
function normalised(map: ImageMap, frame: Frame): number[] {
  const h = map.homography;
  const rows = [0, 1, 2].map((r) => {
    const a = h[3 * r];
    const b = h[3 * r + 1];
    return [a * frame.scale, b * frame.scale, a * frame.x + b * frame.y + h[3 * r + 2]];
  });
  const top = [0, 1].map((r) =>
    rows[r].map((value, c) => (value - map.centrePx[r] * rows[2][c]) / map.radiusPx),
  );
  return [...top[0], ...top[1], ...rows[2]].map((value) => value / rows[2][2]);
}

function denormalised(h: readonly number[], map: ImageMap, frame: Frame): Float64Array {
  const bottom = h.slice(6, 9);
  const rows = [0, 1].map((r) =>
    bottom.map((value, c) => h[3 * r + c] * map.radiusPx + map.centrePx[r] * value),
  );
  return Float64Array.from(
    [...rows, bottom].flatMap(([a, b, c]) => [
      a / frame.scale,
      b / frame.scale,
      c - (a * frame.x + b * frame.y) / frame.scale,
    ]),
  );
}

/** Fills the row of derivatives and returns observed minus computed, px, along the normal. */
function linearise(
  s: LineSighting,
  map: ImageMap,
  frame: Frame,
  h: readonly number[],
  k: readonly number[],
  row: Float64Array,
): number {
  const x = (s.xMm - frame.x) / frame.scale;
  const y = (s.yMm - frame.y) / frame.scale;
  const w = h[6] * x + h[7] * y + h[8];
  const du = (h[0] * x + h[1] * y + h[2]) / w;
  const dv = (h[3] * x + h[4] * y + h[5]) / w;
  const r2 = du * du + dv * dv;
  const swell = 1 + r2 * (k[0] + r2 * k[1]);
  const along = s.normalU * du + s.normalV * dv;
  const radius = map.radiusPx;
  const growth = 2 * along * (k[0] + 2 * k[1] * r2);
  const gu = radius * (swell * s.normalU + growth * du);
  const gv = radius * (swell * s.normalV + growth * dv);
  row[0] = (gu * x) / w;
  row[1] = (gu * y) / w;
  row[2] = gu / w;
  row[3] = (gv * x) / w;
  row[4] = (gv * y) / w;
  row[5] = gv / w;
  const bottom = -(gu * du + gv * dv) / w;
  row[6] = bottom * x;
  row[7] = bottom * y;
  row[8] = radius * along * r2;
  row[9] = radius * along * r2 * r2;
  const u = map.centrePx[0] + radius * du * swell;
  const v = map.centrePx[1] + radius * dv * swell;
  return s.normalU * (s.uPx - u) + s.normalV * (s.vPx - v);
}
