/** How far strokes reach. */

import type { Stroke } from '../../shared/stroke.js';

export interface StrokeExtent {
  /** mm. */
  readonly x: readonly [from: number, to: number];
  readonly y: readonly [from: number, to: number];
}

/** The rectangle about all strokes; undefined without any. */
export function strokeExtent(strokes: readonly Stroke[]): StrokeExtent | undefined {
  if (strokes.length === 0) return undefined;
  const range = (axis: 0 | 1) => {
    let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (const { fromMm, toMm } of strokes) {
      least = Math.min(least, fromMm[axis], toMm[axis]);
      most = Math.max(most, fromMm[axis], toMm[axis]);
    }
    return [least, most] as const;
  };
  return { x: range(0), y: range(1) };
}
