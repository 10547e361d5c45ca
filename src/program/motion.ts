/** What the interpreter makes of a program: one motion after the other, in one set of coordinates. */

import type { Approach } from '../../shared/stroke.js';

/** X, Y, Z in mm, work coordinates; undefined where the program does not tell. */
export type AxisPositions = readonly [
  x: number | undefined,
  y: number | undefined,
  z: number | undefined,
];

/** rapid G0, feed G1, arc G2 and G3, hole a drilling cycle, other: probing, moves to machine positions. */
export type MotionKind = 'rapid' | 'feed' | 'arc' | 'hole' | 'other';

export interface Motion {
  readonly kind: MotionKind;
  /** Line of the program text, from 1. */
  readonly line: number;
  readonly from: AxisPositions;
  readonly to: AxisPositions;
  /** X or Y moves, or may move. */
  readonly movesXY: boolean;
  /** M3 or M4 is in force and S is above 0. */
  readonly isSpindleOn: boolean;
  /** Goes up each time the spindle (the beam) goes off. */
  readonly spindleSession: number;
  /** Names the coordinates that from and to stand in; equal names, equal coordinates. */
  readonly coordinates: string;
  /** Sense of the last motion of each axis, this one included; 0 unknown. */
  readonly approachX: Approach;
  readonly approachY: Approach;
}

/** Below this a commanded move is none, mm: far below any machine, far above rounding. */
export const NO_MOVE_MM = 1e-9;

/** The sense of a commanded difference, mm; undefined where it is no move. */
export function senseOf(differenceMm: number): Approach | undefined {
  if (Math.abs(differenceMm) <= NO_MOVE_MM) return undefined;
  return differenceMm > 0 ? 1 : -1;
}
