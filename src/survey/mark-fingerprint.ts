/**
 * What makes one board's marks unlike any other's: how far each stretch of a mark lies from a smooth
 * picture of the grid. Lines that are a little off and edges that wander look the same in every photo of
 * the board, whichever way round it was taken.
 */

import { imageFromCommanded, type MeasuredMarks } from '../marks/index.js';
import { solveNormal } from '../numerics/index.js';
import type { BoardSegment } from '../program/index.js';

/** Departure of each segment, mm toward the rising coordinate; NaN where it was not seen. */
export type MarkFingerprint = Float64Array;

/** Lens, tilt and smooth machine errors are of lower order than this; what is left belongs to the marks. */
const DEGREE = 4;
/** Step for the local scale, mm. */
const STEP_MM = 1;
/** Fewer common segments tell nothing. */
const FEWEST_COMMON = 40;

export function markFingerprint(
  marks: MeasuredMarks,
  segments: readonly BoardSegment[],
): MarkFingerprint {
  const result = new Float64Array(segments.length).fill(Number.NaN);
  const indexOf = new Map(segments.map((segment, i) => [segment.id, i]));
  for (const axis of ['x', 'y'] as const) {
    const seen = marks.observations.flatMap((o) => {
      const at = indexOf.get(o.segmentId);
      return at === undefined || segments[at].axis !== axis ? [] : [{ ...o, at }];
    });
    const offsets = seen.map(({ xMm, yMm, uPx, vPx, normalU, normalV }) => {
      const [u, v] = imageFromCommanded(marks.map, xMm, yMm);
      const [u1, v1] = imageFromCommanded(
        marks.map,
        xMm + (axis === 'x' ? STEP_MM : 0),
        yMm + (axis === 'y' ? STEP_MM : 0),
      );
      const pxPerMm = ((u1 - u) * normalU + (v1 - v) * normalV) / STEP_MM;
      return ((uPx - u) * normalU + (vPx - v) * normalV) / pxPerMm;
    });
    const rough = withoutSmoothPart(
      seen.map(({ xMm, yMm }) => [xMm, yMm]),
      offsets,
    );
    seen.forEach(({ at }, k) => {
      result[at] = rough[k];
    });
  }
  return result;
}

/** Correlation of two fingerprints over the segments that both show; 0 where these are too few. */
export function likeness(a: MarkFingerprint, b: MarkFingerprint): number {
  let [aa, bb, ab, count] = [0, 0, 0, 0];
  for (let i = 0; i < a.length; i++) {
    if (Number.isNaN(a[i]) || Number.isNaN(b[i])) continue;
    aa += a[i] * a[i];
    bb += b[i] * b[i];
    ab += a[i] * b[i];
    count++;
  }
  return count < FEWEST_COMMON || aa === 0 || bb === 0 ? 0 : ab / Math.sqrt(aa * bb);
}

function withoutSmoothPart(places: readonly number[][], values: readonly number[]): number[] {
  const scale = [0, 1].map((k) => {
    const all = places.map((place) => place[k]);
    const low = Math.min(...all);
    const high = Math.max(...all);
    return { middle: (low + high) / 2, half: (high - low) / 2 || 1 };
  });
  const rows = places.map((place) => {
    const [x, y] = place.map((value, k) => (value - scale[k].middle) / scale[k].half);
    const row: number[] = [];
    for (let i = 0; i <= DEGREE; i++)
      for (let j = 0; i + j <= DEGREE; j++) row.push(x ** i * y ** j);
    return row;
  });
  const n = rows[0]?.length ?? 0;
  const matrix = new Float64Array(n * n);
  const right = new Float64Array(n);
  rows.forEach((row, r) => {
    for (let i = 0; i < n; i++) {
      right[i] += row[i] * values[r];
      for (let j = 0; j < n; j++) matrix[i * n + j] += row[i] * row[j];
    }
  });
  const fit = solveNormal(matrix, right, 1e-9);
  if (fit === undefined) return [...values];
  return rows.map((row, r) => values[r] - row.reduce((sum, term, i) => sum + term * fit[i], 0));
}
