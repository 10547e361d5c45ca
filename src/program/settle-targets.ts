/** Axis words → where the axes go. */

import type { Block } from './arrange-words.js';
import { rotatePoint, rotateVector, unrotatePoint } from './coordinates.js';
import { AXES, type ModalState, setSense } from './modal-state.js';
import { type AxisPositions, senseOf } from './motion.js';

export interface Step {
  /** In the coordinates of the new position. */
  readonly from: AxisPositions;
  /** X or Y moves, or may move. */
  readonly movesXY: boolean;
}

type MutablePositions = [number | undefined, number | undefined, number | undefined];

/**
 * Moves the position of the state to where the axis words say, and keeps the sense of X and Y (0
 * where an axis comes from an unknown place; as before where it does not move). An incremental move
 * from an unknown place calls that place 0.
 *
 * @param axisCount 2: the Z word means something else.
 */
export function settleTargets(state: ModalState, block: Block, axisCount: 2 | 3): Step {
  if (state.isIncremental) countFromHere(state, block);
  if (state.coordinates.rotation !== undefined) return settleRotated(state, block, axisCount);
  const { frames } = state.coordinates;
  let from = state.position;
  const to: MutablePositions = [from[0], from[1], from[2]];
  let movesXY = false;
  for (const axis of [0, 1] as const) {
    const word = block.values.get(AXES[axis]);
    if (word === undefined) continue;
    const lengthMm = word * state.mmPerUnit;
    if (state.isIncremental) {
      to[axis] = from[axis]! + lengthMm;
    } else {
      const { anchor, offsetMm } = frames[axis];
      if (state.anchors[axis] !== anchor) {
        state.anchors[axis] = anchor;
        from = forgetAxis(from, axis);
      }
      to[axis] = lengthMm + offsetMm;
    }
    movesXY = keepSense(state, axis, from[axis], to[axis]) || movesXY;
  }
  if (axisCount === 3) to[2] = settleZ(state, block);
  state.position = to;
  return { from, movesXY };
}

/** Rotated words move X and Y together. */
function settleRotated(state: ModalState, { values, ...block }: Block, axisCount: 2 | 3): Step {
  const { rotation, frames } = state.coordinates;
  const [x, y] = [values.get('X'), values.get('Y')];
  let from = state.position;
  const to: MutablePositions = [...from];
  let movesXY = false;
  if (x !== undefined || y !== undefined) {
    const scale = state.mmPerUnit;
    if (state.isIncremental) {
      const [dx, dy] = rotateVector(rotation!, [(x ?? 0) * scale, (y ?? 0) * scale]);
      to[0] = from[0]! + dx;
      to[1] = from[1]! + dy;
    } else {
      for (const axis of [0, 1] as const) {
        if (state.anchors[axis] === frames[axis].anchor) continue;
        state.anchors[axis] = frames[axis].anchor;
        from = forgetAxis(from, axis);
      }
      const offset = [frames[0].offsetMm, frames[1].offsetMm] as const;
      const isKnown = from[0] !== undefined && from[1] !== undefined;
      const here = isKnown
        ? unrotatePoint(rotation!, [from[0]! - offset[0], from[1]! - offset[1]])
        : [undefined, undefined];
      const wordX = x === undefined ? here[0] : x * scale;
      const wordY = y === undefined ? here[1] : y * scale;
      const isTold = wordX !== undefined && wordY !== undefined;
      const target = isTold ? rotatePoint(rotation!, [wordX, wordY]) : undefined;
      to[0] = target && target[0] + offset[0];
      to[1] = target && target[1] + offset[1];
    }
    for (const axis of [0, 1] as const) {
      movesXY = keepSense(state, axis, from[axis], to[axis]) || movesXY;
    }
  }
  if (axisCount === 3) to[2] = settleZ(state, { ...block, values });
  state.position = to;
  return { from, movesXY };
}

function settleZ(state: ModalState, block: Block): number | undefined {
  const word = block.values.get('Z');
  const before = state.position[2];
  if (word === undefined) return before;
  const lengthMm = word * state.mmPerUnit;
  if (!state.isIncremental) return lengthMm;
  return before === undefined ? undefined : before + lengthMm;
}

/** @returns whether the axis moves, or may move. */
function keepSense(
  state: ModalState,
  axis: 0 | 1,
  from: number | undefined,
  to: number | undefined,
): boolean {
  const sense = from === undefined || to === undefined ? 0 : senseOf(to - from);
  if (sense !== undefined) setSense(state, axis, sense);
  return sense !== undefined;
}

/** An incremental move from an unknown place: that place is called X0 Y0 from now on. */
function countFromHere(state: ModalState, block: Block): void {
  const [x, y, z] = state.position;
  if (x !== undefined && y !== undefined) return;
  const { values } = block;
  const isRotated = state.coordinates.rotation !== undefined;
  const movesX = values.has('X') || (isRotated && values.has('Y'));
  const movesY = values.has('Y') || (isRotated && values.has('X'));
  if (!(movesX && x === undefined) && !(movesY && y === undefined)) return;
  if (x === undefined) state.anchors[0] = state.coordinates.newAnchor();
  if (y === undefined) state.anchors[1] = state.coordinates.newAnchor();
  state.position = [x ?? 0, y ?? 0, z];
  state.notes.add('PROGRAM_START_ASSUMED', block.line);
}

function forgetAxis([x, y, z]: AxisPositions, axis: 0 | 1): AxisPositions {
  return axis === 0 ? [undefined, y, z] : [x, undefined, z];
}
