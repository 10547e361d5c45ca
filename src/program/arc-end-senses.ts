/** In which sense X and Y moved last when an arc in the XY plane ends. */

import type { Approach } from '../../shared/stroke.js';
import { senseOf } from './motion.js';

export interface ArcWords {
  /** mm; undefined where unknown. */
  readonly from: readonly [number | undefined, number | undefined];
  readonly to: readonly [number | undefined, number | undefined];
  readonly turn: 'clockwise' | 'counterclockwise';
  /** I and J, mm. */
  readonly centreWords: readonly [number | undefined, number | undefined];
  /** R, mm: above 0 an arc of at most half a turn, below 0 the longer one. */
  readonly radiusWord: number | undefined;
  /** Set where I and J are positions instead of distances from the start: added to them, mm. */
  readonly centreOffset: readonly [number, number] | undefined;
}

/** How far before the end the arc is looked at, rad: where it ends at an extreme, the tangent alone tells nothing. */
const LOOK_BACK_RAD = 1e-3;

/**
 * The sense of the last X and Y motion on an arc; 0 where the words do not tell.
 * Source of the two arc forms: NISTIR 6556, section 3.5.3.
 */
export function arcEndSenses(arc: ArcWords): [Approach, Approach] {
  const centre = findCentre(arc);
  const [endX, endY] = arc.to;
  if (centre === undefined || endX === undefined || endY === undefined) return [0, 0];
  const angle = Math.atan2(endY - centre[1], endX - centre[0]);
  const radius = Math.hypot(endX - centre[0], endY - centre[1]);
  const before = angle + (arc.turn === 'clockwise' ? LOOK_BACK_RAD : -LOOK_BACK_RAD);
  return [
    senseOf(radius * (Math.cos(angle) - Math.cos(before))) ?? 0,
    senseOf(radius * (Math.sin(angle) - Math.sin(before))) ?? 0,
  ];
}

function findCentre(arc: ArcWords): [number, number] | undefined {
  const [startX, startY] = arc.from;
  const [endX, endY] = arc.to;
  const [i, j] = arc.centreWords;
  if (startX === undefined || startY === undefined) return undefined;
  if (i !== undefined || j !== undefined) {
    return arc.centreOffset === undefined
      ? [startX + (i ?? 0), startY + (j ?? 0)]
      : [(i ?? startX) + arc.centreOffset[0], (j ?? startY) + arc.centreOffset[1]];
  }
  if (arc.radiusWord === undefined || endX === undefined || endY === undefined) return undefined;
  const half = [(endX - startX) / 2, (endY - startY) / 2] as const;
  const halfChord = Math.hypot(...half);
  if (halfChord === 0) return undefined;
  const height = Math.sqrt(Math.max(0, arc.radiusWord ** 2 - halfChord ** 2)) / halfChord;
  // A short clockwise arc has its centre on the right of the chord, the other two cases swap sides.
  const side = (arc.turn === 'clockwise') === arc.radiusWord > 0 ? 1 : -1;
  return [startX + half[0] + side * height * half[1], startY + half[1] - side * height * half[0]];
}
