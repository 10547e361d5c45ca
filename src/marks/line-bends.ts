/**
 * How far a segment's mean lies from its middle. What is measured is the mean along a predicted curve; the
 * mark is bent otherwise. A third of a parabola's sagitta.
 */

import { median } from '../numerics/index.js';
import type { BoardSegment } from '../program/index.js';
import type { AcrossOffset } from './place-segments.js';
import type { OffsetSample, OffsetSurface } from './smooth-offsets.js';

/** By how much a smooth offset's mean along the segment exceeds that of its middle; px. */
export function meanBeyondMiddle(segment: BoardSegment, offset: AcrossOffset): number {
  const [from, middle, to] = [0, 0.5, 1].map((share) =>
    offset(
      segment,
      segment.fromMm[0] + share * (segment.toMm[0] - segment.fromMm[0]),
      segment.fromMm[1] + share * (segment.toMm[1] - segment.fromMm[1]),
    ),
  );
  return ((from + to) / 2 - middle) / 3;
}

/**
 * The same for the marks: from the surface, and from how each stroke's own segments bend off it. Through few
 * lines a surface cannot follow a bend that turns over from one side of the board to the other, which is what a
 * falsely measured lens leaves.
 */
export function bendsOfLines(
  samples: readonly OffsetSample[],
  { predicted }: OffsetSurface,
): (segment: BoardSegment) => number {
  const strokes = new Map<number, Departure[]>();
  for (const { segment, xMm, yMm, offsetPx } of samples) {
    const own = strokes.get(segment.strokeId) ?? [];
    own.push({
      alongMm: segment.axis === 'x' ? yMm : xMm,
      offPx: offsetPx - predicted(segment, xMm, yMm),
    });
    strokes.set(segment.strokeId, own);
  }
  const bends = new Map([...strokes].map(([id, own]) => [id, bendOf(own)]));
  return (segment) => {
    const bend = bends.get(segment.strokeId) ?? 0;
    return meanBeyondMiddle(segment, predicted) + (bend * lengthMmOf(segment) ** 2) / 12;
  };
}

interface Departure {
  readonly alongMm: number;
  readonly offPx: number;
}

/** Median second divided difference: the c of c·t²; px/mm². */
function bendOf(departures: Departure[]): number {
  const sorted = departures.sort((a, b) => a.alongMm - b.alongMm);
  const bends: number[] = [];
  for (let i = 1; i + 1 < sorted.length; i++) {
    const [a, b, c] = [sorted[i - 1], sorted[i], sorted[i + 1]];
    const ahead = (c.offPx - b.offPx) / (c.alongMm - b.alongMm);
    const behind = (b.offPx - a.offPx) / (b.alongMm - a.alongMm);
    bends.push((ahead - behind) / (c.alongMm - a.alongMm));
  }
  return bends.length > 0 ? median(bends) : 0;
}

function lengthMmOf({ fromMm, toMm }: BoardSegment): number {
  return Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
}
