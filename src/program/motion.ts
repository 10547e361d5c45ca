/** What the interpreter makes of a program: one motion after the other. */

import type { Approach } from '../../shared/stroke.js';

/** X, Y, Z in mm; undefined where the program does not tell. */
export type AxisPositions = readonly [
  x: number | undefined,
  y: number | undefined,
  z: number | undefined,
];

/** rapid G0, feed G1, arc G2 and G3, cycle a drilled hole, other: probing, moves to machine positions. */
export type MotionKind = 'rapid' | 'feed' | 'arc' | 'cycle' | 'other';

export interface Motion {
  readonly kind: MotionKind;
  /** Line of the program text, from 1. */
  readonly line: number;
  /** X and Y in the coordinates of {@link Conditions.place}, Z as the words name it. */
  readonly from: AxisPositions;
  readonly to: AxisPositions;
  /** X or Y moves, or may move. */
  readonly movesXY: boolean;
  /** Sense of the last motion of each axis, this one included; 0 unknown. */
  readonly approachX: Approach;
  readonly approachY: Approach;
  readonly conditions: Conditions;
  /** Of arcs where start and end are known, and of cycles. */
  readonly shape: ArcShape | CycleShape | undefined;
}

/** What holds for a motion; one object for all motions in a row that it holds for. */
export interface Conditions {
  readonly place: Place;
  /** M3 or M4 is in force and S is above 0. */
  readonly isSpindleOn: boolean;
  /** Goes up each time the spindle (the beam) goes off. */
  readonly spindleSession: number;
  /** mm/min; undefined where the program does not tell. */
  readonly feedMmPerMin: number | undefined;
  /** S; undefined where the program does not tell. */
  readonly power: number | undefined;
  /** The tool may run beside the commanded path. */
  readonly isCompensated: boolean;
}

/** The coordinates of positions in X and Y. */
export interface Place {
  /** Positions can be compared where the anchors are the same. */
  readonly anchorX: number;
  readonly anchorY: number;
  /** Position - word, mm. */
  readonly offsetX: number;
  readonly offsetY: number;
}

export interface ArcShape {
  readonly kind: 'arc';
  /** The axes of the plane, in right-handed order: X Y, Z X or Y Z; 0 is X. */
  readonly axes: readonly [first: number, second: number];
  /** In these axes, mm. */
  readonly centreMm: readonly [first: number, second: number];
  readonly radiusMm: number;
  /** Above 0 counterclockwise; more than a turn where P says so. */
  readonly sweepRad: number;
}

export interface CycleShape {
  readonly kind: 'cycle';
  /** Z of the deepest point and of the plane R, mm; undefined where unknown. */
  readonly bottomMm: number | undefined;
  readonly retractMm: number | undefined;
}

/** Below this a commanded move is none, mm: far below any machine, far above rounding. */
export const NO_MOVE_MM = 1e-9;

/** The sense of a commanded difference, mm; undefined where it is no move. */
export function senseOf(differenceMm: number): Approach | undefined {
  if (Math.abs(differenceMm) <= NO_MOVE_MM) return undefined;
  return differenceMm > 0 ? 1 : -1;
}

/** Something moves, or may move. */
export function movesAtAll({ kind, from, to, movesXY }: Motion): boolean {
  if (movesXY || kind === 'cycle' || from[2] === undefined || to[2] === undefined) return true;
  return Math.abs(to[2] - from[2]) > NO_MOVE_MM;
}

/** Positions in the two can be compared. */
export function areRelated(one: Place, other: Place): boolean {
  return one.anchorX === other.anchorX && one.anchorY === other.anchorY;
}
