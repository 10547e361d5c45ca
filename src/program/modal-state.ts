/** The state that the lines of a program leave behind, and the smallest steps that change it. */

import type { Approach } from '../../shared/stroke.js';
import type { Block } from './arrange-words.js';
import { Coordinates } from './coordinates.js';
import type {
  ArcShape,
  AxisPositions,
  Conditions,
  CycleShape,
  Motion,
  MotionKind,
  Place,
} from './motion.js';
import type { Notes } from './notes.js';

/** Changed in place by each line. */
export interface ModalState {
  readonly motions: Motion[];
  readonly notes: Notes;
  /** M0, M1 and M60 by line: whether the stop is optional. */
  readonly stops: Map<number, boolean>;
  readonly coordinates: Coordinates;
  /** X and Y in the coordinates that the anchors name, Z as the words name it; mm. */
  position: AxisPositions;
  /** Of the position's X and Y. */
  anchors: [number, number];
  /** Sense of the last motion in X and Y. */
  senses: [Approach, Approach];
  mmPerUnit: number;
  unitsSeen: Set<'mm' | 'inch'>;
  isIncremental: boolean;
  areCentresAbsolute: boolean;
  plane: 170 | 180 | 190;
  /** Motion code in force, times ten. */
  motionCode: number | undefined;
  spindle: 'on' | 'off';
  power: number | undefined;
  spindleSession: number;
  isFeedPerMinute: boolean;
  feedMmPerMin: number | undefined;
  /** G41 or G42 is in force; or off, but the next move still comes from beside the path. */
  compensation: 'off' | 'on' | 'ending';
  /** R and Z words of the drilling cycles in force, mm, as they were written. */
  cycleWords: { readonly r: number | undefined; readonly z: number | undefined };
  /** G99 is in force. */
  returnsToR: boolean;
  /** Holes that repeated cycles may still make. */
  repeatsLeft: number;
  conditions: Conditions | undefined;
  hasEnded: boolean;
}

/** No drilling cycle is in force. */
export const NO_CYCLE_WORDS: ModalState['cycleWords'] = { r: undefined, z: undefined };

/** Words of the axes, in the order of positions. */
export const AXES = ['X', 'Y', 'Z'] as const;

/** More holes than any sheet takes. Repeats are quickly written: L999999. */
export const MOST_REPEATS = 100_000;

/** The state at the start of a program: nothing is known of the position. */
export function startingState(notes: Notes): ModalState {
  return {
    motions: [],
    notes,
    stops: new Map(),
    coordinates: new Coordinates(),
    position: [undefined, undefined, undefined],
    anchors: [0, 0],
    senses: [0, 0],
    mmPerUnit: 1,
    unitsSeen: new Set(),
    isIncremental: false,
    areCentresAbsolute: false,
    plane: 170,
    motionCode: undefined,
    spindle: 'off',
    power: undefined,
    spindleSession: 0,
    isFeedPerMinute: true,
    feedMmPerMin: undefined,
    compensation: 'off',
    cycleWords: NO_CYCLE_WORDS,
    returnsToR: false,
    repeatsLeft: MOST_REPEATS,
    conditions: undefined,
    hasEnded: false,
  };
}

export function hasAxisWord({ values }: Block): boolean {
  return values.has('X') || values.has('Y') || values.has('Z');
}

export function isSpindleOn({ spindle, power }: ModalState): boolean {
  return spindle === 'on' && power !== undefined && power > 0;
}

/** Beside the commanded path nobody knows from which side an axis comes. */
export function setSense(state: ModalState, axis: 0 | 1, sense: Approach): void {
  state.senses[axis] = state.compensation === 'off' ? sense : 0;
}

/** A move to where only the machine knows. */
export function leaveToUnknown(state: ModalState, block: Block, axes: readonly number[]): void {
  const from = state.position;
  const to: [number | undefined, number | undefined, number | undefined] = [...from];
  for (const axis of axes) {
    to[axis] = undefined;
    if (axis === 0 || axis === 1) state.senses[axis] = 0;
  }
  state.position = to;
  pushMotion(state, block, 'other', from, axes.includes(0) || axes.includes(1), undefined);
}

/** Adds a motion to the present position. */
export function pushMotion(
  state: ModalState,
  block: Block,
  kind: MotionKind,
  from: AxisPositions,
  movesXY: boolean,
  shape: ArcShape | CycleShape | undefined,
): void {
  state.motions.push({
    kind,
    line: block.line,
    from,
    to: state.position,
    movesXY,
    approachX: state.senses[0],
    approachY: state.senses[1],
    conditions: settleConditions(state),
    shape,
  });
  if (movesXY && state.compensation === 'ending') state.compensation = 'off';
}

/** The conditions before, where they still hold: a program has far more motions than conditions. */
function settleConditions(state: ModalState): Conditions {
  const before = state.conditions;
  const place = settlePlace(state, before?.place);
  const isOn = isSpindleOn(state);
  const isCompensated = state.compensation !== 'off';
  if (
    before !== undefined &&
    before.place === place &&
    before.isSpindleOn === isOn &&
    before.spindleSession === state.spindleSession &&
    before.feedMmPerMin === state.feedMmPerMin &&
    before.power === state.power &&
    before.isCompensated === isCompensated
  ) {
    return before;
  }
  state.conditions = {
    place,
    isSpindleOn: isOn,
    spindleSession: state.spindleSession,
    feedMmPerMin: state.feedMmPerMin,
    power: state.power,
    isCompensated,
  };
  return state.conditions;
}

function settlePlace({ anchors, coordinates }: ModalState, before: Place | undefined): Place {
  const [anchorX, anchorY] = anchors;
  const [frameX, frameY] = coordinates.frames;
  const offsetX = anchorX === frameX.anchor ? frameX.offsetMm : 0;
  const offsetY = anchorY === frameY.anchor ? frameY.offsetMm : 0;
  const isSame =
    before !== undefined &&
    before.anchorX === anchorX &&
    before.anchorY === anchorY &&
    before.offsetX === offsetX &&
    before.offsetY === offsetY;
  return isSame ? before : { anchorX, anchorY, offsetX, offsetY };
}
