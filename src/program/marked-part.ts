/** Which part of a motion leaves a mark. */

import type { AxisPositions, Motion } from './motion.js';

/** How the marks were made: burnt, where the beam is on, or cut, where Z is below the surface. */
export type Marking = 'laser' | 'cutter';

/** As fractions of the motion, from 0 to 1. */
export type Part = readonly [from: number, to: number];

const WHOLE: Part = [0, 1];

/**
 * The part of a motion with feed that marks; undefined where nothing does. Z is taken to change
 * evenly along the motion. 'unknown': it begins at an unknown height.
 */
export function markedPart(motion: Motion, marking: Marking): Part | 'unknown' | undefined {
  if (marking === 'laser') return motion.conditions.isSpindleOn ? WHOLE : undefined;
  return partBelow(motion.from[2], motion.to[2]);
}

export function isBelow(position: AxisPositions): boolean {
  return position[2] !== undefined && position[2] < 0;
}

/** The part of a move that runs below Z = 0. */
function partBelow(start: number | undefined, end: number | undefined) {
  if (end === undefined) return undefined;
  if (start === undefined) return end < 0 ? 'unknown' : undefined;
  if (start < 0 && end < 0) return WHOLE;
  if (start >= 0 && end >= 0) return undefined;
  const surface = start / (start - end);
  return start < 0 ? ([0, surface] as const) : ([surface, 1] as const);
}
