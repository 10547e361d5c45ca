/** G2 and G3: arcs and circles, helices too, in the three planes. */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import { rotatePoint, rotateVector } from './coordinates.js';
import { invalidAt } from './cursor.js';
import { type ModalState, pushMotion, setSense } from './modal-state.js';
import { type ArcShape, type AxisPositions, senseOf } from './motion.js';
import { settleTargets } from './settle-targets.js';

type Pair = readonly [number, number];

/** Axes by plane code, in right-handed order, so that G3 goes counterclockwise in each. */
const PLANES = { 170: [0, 1], 180: [2, 0], 190: [1, 2] } as const;
const CENTRE_LETTERS = ['I', 'J', 'K'] as const;

/**
 * How far the distances of the centre from start and end may differ. NISTIR 6556, section 3.5.3.2,
 * allows 0.002 mm or 0.0002 in; real programs round five words each to three digits, of an inch at
 * worst: an arc is refused where both limits are passed.
 */
const MISMATCH_MM = 0.05;
const MISMATCH_SHARE = 1e-3;

/** Ends this near are the same place, mm: sums of offsets round. */
const SAME_PLACE_MM = 1e-6;

/** How far before the end the arc is looked at, rad: where it ends at an extreme, the tangent alone tells nothing. */
const LOOK_BACK_RAD = 1e-3;

/**
 * Moves on an arc. Where start, end or centre is unknown, so is the arc, and the sense of its axes.
 *
 * Fails: PROGRAM_INVALID (no centre and no radius; distances to the centre that differ; a radius too
 * small, or without another end; P no count of turns).
 * Source: NISTIR 6556, section 3.5.3. Absolute centres (G90.1) and P turns: common practice, no source.
 */
export function moveOnArc(state: ModalState, block: Block, isClockwise: boolean): Outcome<void> {
  const axes = PLANES[state.plane];
  const turns = countTurns(block);
  if (!turns.ok) return turns;
  if (state.coordinates.rotation !== undefined && state.plane !== 170) {
    return invalidAt(
      block,
      'an arc outside the XY plane while G68 turns it',
      'write it out in lines',
    );
  }
  const { from } = settleTargets(state, block, 3);
  const start = pairOf(from, axes);
  const end = pairOf(state.position, axes);
  const centre = findCentre(state, block, axes, start, end, isClockwise);
  if (!centre.ok) return centre;

  let shape: ArcShape | undefined;
  if (start !== undefined && end !== undefined && centre.value !== undefined) {
    const made = shapeArc(block, axes, start, end, centre.value, isClockwise, turns.value);
    if (!made.ok) return made;
    shape = made.value;
  }
  setEndSenses(state, axes, end, shape);
  pushMotion(state, block, 'arc', from, true, shape);
  return success(undefined);
}

function pairOf(position: AxisPositions, [a, b]: readonly [number, number]): Pair | undefined {
  const [first, second] = [position[a], position[b]];
  return first === undefined || second === undefined ? undefined : [first, second];
}

/** P belongs to G4 or M98 where one of them stands in the line. */
function countTurns({ name, line, g, m, values, columns }: Block): Outcome<number> {
  const turns = values.get('P');
  if (turns === undefined || g.has(40) || g.has(541) || m.has(98)) return success(1);
  if (Number.isInteger(turns) && turns >= 1) return success(turns);
  return invalidAt(
    { name, line, column: columns.get('P')! },
    `P${turns} is no count of turns`,
    'expected a whole number from 1',
  );
}

/** Undefined where the words tell a centre, but from a place that is unknown. */
function findCentre(
  state: ModalState,
  block: Block,
  axes: readonly [number, number],
  start: Pair | undefined,
  end: Pair | undefined,
  isClockwise: boolean,
): Outcome<Pair | undefined> {
  const words = axes.map((axis) => block.values.get(CENTRE_LETTERS[axis]!));
  const radius = block.values.get('R');
  if (words[0] !== undefined || words[1] !== undefined) {
    return success(start && centreOfWords(state, axes, start, words));
  }
  if (radius === undefined) {
    const letters = axes.map((axis) => CENTRE_LETTERS[axis]).join(' and ');
    return invalidAt(block, 'the arc has neither a centre nor a radius', `write ${letters}, or R`);
  }
  if (start === undefined || end === undefined) return success(undefined);
  return centreOfRadius(block, start, end, radius * state.mmPerUnit, isClockwise);
}

/** A word that is missing means the place of the start. */
function centreOfWords(
  state: ModalState,
  axes: readonly [number, number],
  start: Pair,
  words: readonly (number | undefined)[],
): Pair | undefined {
  const { mmPerUnit, anchors } = state;
  const { frames, rotation } = state.coordinates;
  const [first, second] = words.map((word) => word && word * mmPerUnit);
  if (!state.areCentresAbsolute) {
    const away: Pair = [first ?? 0, second ?? 0];
    const [da, db] = rotation === undefined ? away : rotateVector(rotation, away);
    return [start[0] + da, start[1] + db];
  }
  const offsets = axes.map((axis) => {
    // Z stands as the words name it.
    if (axis === 2) return 0;
    const frame = frames[axis as 0 | 1];
    return anchors[axis] === frame.anchor ? frame.offsetMm : undefined;
  });
  const [offsetA, offsetB] = offsets;
  if (offsetA === undefined || offsetB === undefined) return undefined;
  if (rotation === undefined) {
    return [
      first === undefined ? start[0] : first + offsetA,
      second === undefined ? start[1] : second + offsetB,
    ];
  }
  if (first === undefined || second === undefined) return undefined;
  const [x, y] = rotatePoint(rotation, [first, second]);
  return [x + offsetA, y + offsetB];
}

function centreOfRadius(
  block: Block,
  start: Pair,
  end: Pair,
  radiusMm: number,
  isClockwise: boolean,
): Outcome<Pair> {
  const half = [(end[0] - start[0]) / 2, (end[1] - start[1]) / 2] as const;
  const halfChord = Math.hypot(...half);
  if (2 * halfChord <= SAME_PLACE_MM) {
    return invalidAt(
      block,
      'an arc with R needs an end that is not its start',
      'write a circle with I and J',
    );
  }
  if (halfChord > Math.abs(radiusMm) + MISMATCH_MM) {
    return invalidAt(
      block,
      `the ends are ${2 * halfChord} mm apart: too far for the radius ${Math.abs(radiusMm)} mm`,
      'correct R or the end',
    );
  }
  const height = Math.sqrt(Math.max(0, radiusMm ** 2 - halfChord ** 2)) / halfChord;
  // A short clockwise arc has its centre on the right of the chord, the other two cases swap sides.
  const side = isClockwise === radiusMm > 0 ? 1 : -1;
  return success([
    start[0] + half[0] + side * height * half[1],
    start[1] + half[1] - side * height * half[0],
  ]);
}

/** Undefined where start, end and centre are one place. */
function shapeArc(
  block: Block,
  axes: readonly [number, number],
  start: Pair,
  end: Pair,
  centre: Pair,
  isClockwise: boolean,
  turns: number,
): Outcome<ArcShape | undefined> {
  const startRadius = Math.hypot(start[0] - centre[0], start[1] - centre[1]);
  const endRadius = Math.hypot(end[0] - centre[0], end[1] - centre[1]);
  const mismatch = Math.abs(startRadius - endRadius);
  if (mismatch > MISMATCH_MM && mismatch > MISMATCH_SHARE * startRadius) {
    return invalidAt(
      block,
      `start and end lie ${startRadius} mm and ${endRadius} mm from the centre`,
      `correct ${axes.map((axis) => CENTRE_LETTERS[axis]).join(' and ')}, or the end`,
    );
  }
  if (startRadius <= SAME_PLACE_MM || endRadius <= SAME_PLACE_MM) return success(undefined);

  const turn =
    Math.atan2(end[1] - centre[1], end[0] - centre[0]) -
    Math.atan2(start[1] - centre[1], start[0] - centre[0]);
  const isClosed = Math.hypot(end[0] - start[0], end[1] - start[1]) <= SAME_PLACE_MM;
  let sweep = isClosed ? 0 : isClockwise ? -turn : turn;
  if (sweep <= 0) sweep += 2 * Math.PI;
  if (sweep > 2 * Math.PI) sweep -= 2 * Math.PI;
  sweep += (turns - 1) * 2 * Math.PI;
  return success({
    kind: 'arc',
    axes,
    centreMm: centre,
    radiusMm: (startRadius + endRadius) / 2,
    sweepRad: isClockwise ? -sweep : sweep,
  });
}

/** The axis across the plane keeps the sense that its own word gave it. */
function setEndSenses(
  state: ModalState,
  axes: readonly [number, number],
  end: Pair | undefined,
  shape: ArcShape | undefined,
): void {
  if (end === undefined || shape === undefined) {
    for (const axis of axes) if (axis !== 2) setSense(state, axis as 0 | 1, 0);
    return;
  }
  const { centreMm, radiusMm, sweepRad } = shape;
  const angle = Math.atan2(end[1] - centreMm[1], end[0] - centreMm[0]);
  const before = angle - Math.sign(sweepRad) * LOOK_BACK_RAD;
  const steps = [
    radiusMm * (Math.cos(angle) - Math.cos(before)),
    radiusMm * (Math.sin(angle) - Math.sin(before)),
  ];
  for (const [index, axis] of axes.entries()) {
    if (axis !== 2) setSense(state, axis as 0 | 1, senseOf(steps[index]!) ?? 0);
  }
}

/** Whether a line without axis words is an arc all the same: a full circle. */
export function namesCentre({ plane }: ModalState, { values }: Block): boolean {
  return PLANES[plane].some((axis) => values.has(CENTRE_LETTERS[axis]));
}
