/** Where board segments are expected in the picture, each as a short curve with its own frame. */

import type { BoardSegment } from '../program/index.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';

/** A correction along the normal of a family's lines, as a function of the commanded place; px. */
export type AcrossOffset = (segment: BoardSegment, xMm: number, yMm: number) => number;

/**
 * A predicted mark. A point at (u, v) lies `along` = (p - middle)·e and
 * `across` = (p - middle)·n - bend·along² from it, e = (-nv, nu).
 */
export interface SegmentPlace {
  readonly segment: BoardSegment;
  /** Commanded middle; mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Its predicted place; px, sensor frame. */
  readonly uPx: number;
  readonly vPx: number;
  /** Unit normal, towards the rising commanded coordinate across. */
  readonly normalU: number;
  readonly normalV: number;
  /** Half of the curvature; 1/px. */
  readonly bend: number;
  readonly lengthPx: number;
  /** Scale across the line; px/mm. */
  readonly pxPerMm: number;
  /** Free room to either side before the neighbouring line's own room begins; px. */
  readonly reachPx: number;
  /** Between its ends and the nearest crossing line, along it; px. */
  readonly clearPx: number;
}

/** Half the gap would touch the neighbour's mark in the middle; a little is left to it. */
const SHARE_OF_GAP = 0.45;
/** Step for the derivative across; mm. The map is smooth over metres. */
const STEP_MM = 0.5;

/**
 * Places the segments of one family.
 *
 * @param crossingsMm commanded positions of the other family's lines.
 * @returns one place per segment, in the same order.
 */
export function placeSegments(
  map: ImageMap,
  segments: readonly BoardSegment[],
  crossingsMm: readonly number[],
  offset: AcrossOffset = () => 0,
): SegmentPlace[] {
  const rungs = segments.filter(({ isRung }) => isRung);
  const gaps = gapsOf(
    segments.filter(({ isRung }) => !isRung),
    rungs,
  );
  return segments.map((segment) => {
    const along = segment.axis === 'x' ? 1 : 0;
    const ends = [segment.fromMm[along], segment.toMm[along]];
    const clearMm = Math.min(
      segment.clearMm ?? Number.POSITIVE_INFINITY,
      ...crossingsMm.flatMap((line) => ends.map((end) => Math.abs(line - end))),
    );
    const gapMm = Math.min(
      gapOf(segment, gaps, rungs),
      segment.besideMm ?? Number.POSITIVE_INFINITY,
    );
    return placeSegment(map, segment, gapMm, clearMm, offset);
  });
}

function placeSegment(
  map: ImageMap,
  segment: BoardSegment,
  gapMm: number,
  clearMm: number,
  offset: AcrossOffset,
): SegmentPlace {
  const [x0, y0] = segment.fromMm;
  const [x1, y1] = segment.toMm;
  const xMm = (x0 + x1) / 2;
  const yMm = (y0 + y1) / 2;
  const from = imageFromCommanded(map, x0, y0);
  const to = imageFromCommanded(map, x1, y1);
  const middle = imageFromCommanded(map, xMm, yMm);
  const isX = segment.axis === 'x';
  const low = imageFromCommanded(map, xMm - (isX ? STEP_MM : 0), yMm - (isX ? 0 : STEP_MM));
  const high = imageFromCommanded(map, xMm + (isX ? STEP_MM : 0), yMm + (isX ? 0 : STEP_MM));
  const rise = [(high[0] - low[0]) / (2 * STEP_MM), (high[1] - low[1]) / (2 * STEP_MM)];
  // The chord's normal decides the side; the offsets then move the three points along it.
  const rough = sidedNormal(to[0] - from[0], to[1] - from[1], rise);
  const moved = [from, middle, to].map((point, i) => {
    const by = offset(segment, [x0, xMm, x1][i], [y0, yMm, y1][i]);
    return [point[0] + by * rough[0], point[1] + by * rough[1]];
  });
  const [a, m, b] = moved;
  const lengthPx = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const normal = sidedNormal(b[0] - a[0], b[1] - a[1], rise);
  const sagitta = ((a[0] + b[0]) / 2 - m[0]) * normal[0] + ((a[1] + b[1]) / 2 - m[1]) * normal[1];
  const pxPerMm = Math.abs(rise[0] * normal[0] + rise[1] * normal[1]);
  return {
    segment,
    xMm,
    yMm,
    uPx: m[0],
    vPx: m[1],
    normalU: normal[0],
    normalV: normal[1],
    bend: sagitta / (lengthPx / 2) ** 2,
    lengthPx,
    pxPerMm,
    reachPx: SHARE_OF_GAP * gapMm * pxPerMm,
    clearPx: (clearMm * lengthPx) / Math.hypot(x1 - x0, y1 - y0),
  };
}

/** Unit normal of (du, dv) on the side of `towards`. */
function sidedNormal(du: number, dv: number, towards: readonly number[]): [number, number] {
  const length = Math.hypot(du, dv);
  const side = -dv * towards[0] + du * towards[1] < 0 ? -1 : 1;
  return [(-side * dv) / length, (side * du) / length];
}

/** Farther along than this a rung's end leaves no trace in a segment's profile, mm. */
const BESIDE_MM = 3;

/** Distance to the nearest parallel mark: the neighbouring lines and, beside it, rungs; mm. */
function gapOf(
  segment: BoardSegment,
  gaps: ReadonlyMap<number, number>,
  rungs: readonly BoardSegment[],
): number {
  const along = segment.axis === 'x' ? 1 : 0;
  let gap = gaps.get(segment.lineIndex) ?? Number.POSITIVE_INFINITY;
  for (const rung of rungs) {
    if (rung.lineIndex === segment.lineIndex) continue;
    if (rung.fromMm[along] > segment.toMm[along] + BESIDE_MM) continue;
    if (rung.toMm[along] < segment.fromMm[along] - BESIDE_MM) continue;
    gap = Math.min(gap, Math.abs(positionOf(rung) - positionOf(segment)));
  }
  return Number.isFinite(gap) ? gap : 0;
}

/** Distance of each line, and of each rung to the lines, to its nearer neighbour, by line index; mm. */
function gapsOf(
  ofLines: readonly BoardSegment[],
  rungs: readonly BoardSegment[],
): Map<number, number> {
  const gaps = gapsAmong(ofLines);
  const places = [...new Set(ofLines.map(positionOf))];
  for (const rung of rungs) {
    const distances = places.map((place) => Math.abs(place - positionOf(rung)));
    gaps.set(rung.lineIndex, Math.min(...distances));
  }
  return gaps;
}

function gapsAmong(segments: readonly BoardSegment[]): Map<number, number> {
  const positions = new Map(segments.map((segment) => [segment.lineIndex, positionOf(segment)]));
  const lines = [...positions].sort((a, b) => a[1] - b[1]);
  return new Map(
    lines.map(([index, position], i) => {
      const below = position - (lines[i - 1]?.[1] ?? Number.NEGATIVE_INFINITY);
      const above = (lines[i + 1]?.[1] ?? Number.POSITIVE_INFINITY) - position;
      return [index, Math.min(below, above)];
    }),
  );
}

/** Commanded coordinate across the line; mm. */
export function positionOf(segment: BoardSegment): number {
  return segment.fromMm[segment.axis === 'x' ? 0 : 1];
}
