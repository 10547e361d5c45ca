/**
 * The modal interpreter: what one line does to the state of the machine, and the motions it makes.
 * Follows the order of execution of NISTIR 6556, table 8.
 */

import type { Approach } from '../../shared/stroke.js';
import { type Outcome, success } from '../quantity/index.js';
import { arcEndSenses } from './arc-end-senses.js';
import type { Block } from './arrange-words.js';
import { invalidAt } from './cursor.js';
import { type AxisPositions, type Motion, type MotionKind, senseOf } from './motion.js';
import type { Notes } from './notes.js';

const MM_PER_INCH = 25.4;

/** The state that lines leave behind. Changed in place by {@link interpretBlock}. */
export interface ModalState {
  readonly motions: Motion[];
  /** A feed motion in X or Y was made, which may have marked. */
  hasFed: boolean;
  readonly notes: Notes;
  position: [number | undefined, number | undefined, number | undefined];
  /** Sense of the last motion in X and Y. */
  senses: [Approach, Approach];
  /** Added to absolute X and Y words: keeps marks behind a G92 in the coordinates before it. */
  offsetMm: [number, number];
  mmPerUnit: number;
  unitsSeen: Set<'mm' | 'inch'>;
  isIncremental: boolean;
  areCentresAbsolute: boolean;
  plane: 170 | 180 | 190;
  /** Motion code in force, times ten. */
  motionCode: number | undefined;
  spindle: 'on' | 'off';
  speed: number;
  spindleSession: number;
  /** Coordinate system in force, times ten. */
  system: number;
  /** Goes up each time coordinates change by an unknown amount. */
  generation: number;
  /** Line at which an unknown position was taken as X0 Y0; undefined where the position is absolute. */
  countedFromLine: number | undefined;
  hasEnded: boolean;
}

/** The state at the start of a program: nothing is known of the position. */
export function startingState(notes: Notes): ModalState {
  return {
    motions: [],
    hasFed: false,
    notes,
    position: [undefined, undefined, undefined],
    senses: [0, 0],
    offsetMm: [0, 0],
    mmPerUnit: 1,
    unitsSeen: new Set(),
    isIncremental: false,
    areCentresAbsolute: false,
    plane: 170,
    motionCode: undefined,
    spindle: 'off',
    speed: 0,
    spindleSession: 0,
    system: 540,
    generation: 0,
    countedFromLine: undefined,
    hasEnded: false,
  };
}

/** G codes, times ten, that change where marks lie in a way that is not followed here. */
const REFUSED_G = new Map<number, string>([
  [160, 'polar coordinates'],
  [410, 'cutter radius compensation'],
  [420, 'cutter radius compensation'],
  [411, 'cutter radius compensation'],
  [421, 'cutter radius compensation'],
  [510, 'scaling or mirroring'],
  [511, 'scaling or mirroring'],
  [520, 'a local coordinate system'],
  [650, 'a macro call'],
  [660, 'a macro call'],
  [680, 'rotated coordinates'],
]);

/** Jumps that are followed elsewhere. */
const SUBPROGRAM_M: ReadonlySet<number> = new Set([98, 99]);
const LOCAL_CALL_M = 97;

const DRILLING_G: ReadonlySet<number> = new Set([
  730, 760, 810, 820, 830, 840, 850, 860, 870, 880, 890,
]);
const PROBING_G: ReadonlySet<number> = new Set([382, 383, 384, 385]);
const MOTION_G: ReadonlySet<number> = new Set([
  0,
  10,
  20,
  30,
  330,
  800,
  ...DRILLING_G,
  ...PROBING_G,
]);
/** Codes that stand without effect on where straight marks lie. */
const IDLE_G: ReadonlySet<number> = new Set([
  40, 150, 400, 430, 431, 490, 500, 610, 611, 640, 690, 930, 940, 950, 980, 990,
]);
const MODE_G: ReadonlySet<number> = new Set([
  170, 180, 190, 200, 210, 540, 550, 560, 570, 580, 590, 591, 592, 593, 900, 910, 901, 911,
]);
const OTHER_G: ReadonlySet<number> = new Set([100, 280, 300, 530, 920, 921, 922, 923]);
const KNOWN_M: ReadonlySet<number> = new Set([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 30, 48, 49, 60]);
const KNOWN_LETTERS = 'DFHIJKLPQRSTXYZ';
const AXES = ['X', 'Y', 'Z'] as const;

/**
 * Carries out one line.
 *
 * Fails: PROGRAM_INVALID (a code that moves marks in a way not followed here; axis words without a
 * motion code in force).
 */
export function interpretBlock(state: ModalState, block: Block): Outcome<void> {
  const refusal = refuseCodes(block);
  if (refusal !== undefined) return refusal;
  noteUnknownWords(state, block);
  setSpindle(state, block);
  setModes(state, block);

  const outcome = block.g.has(100)
    ? shiftCoordinates(state)
    : block.g.has(280) || block.g.has(300)
      ? moveToReference(state, block)
      : block.g.has(920)
        ? presetPosition(state, block)
        : block.g.has(921) || block.g.has(922) || block.g.has(923)
          ? shiftCoordinates(state)
          : move(state, block);
  if (!outcome.ok) return outcome;
  state.hasEnded = block.m.has(2) || block.m.has(30);
  return success(undefined);
}

function refuseCodes(block: Block): ReturnType<typeof invalidAt> | undefined {
  for (const code of block.g) {
    const place = { name: block.name, line: block.line, column: block.columns.get('G')! };
    const meaning = REFUSED_G.get(code);
    if (meaning !== undefined) {
      return invalidAt(
        place,
        `G${code / 10} (${meaning}) is not followed`,
        'write the positions of the marks out in plain coordinates',
      );
    }
    if (!isKnownG(code) && hasAxisWord(block)) {
      return invalidAt(
        place,
        `G${code / 10} with axis words is not known`,
        'mark the grid with G0 and G1 moves',
      );
    }
  }
  if (block.m.has(LOCAL_CALL_M)) {
    return invalidAt(
      { name: block.name, line: block.line, column: block.columns.get('M')! },
      'M97 (a subprogram by line number) is not followed',
      'call it with M98, or let the generator write the program out in full',
    );
  }
  return undefined;
}

function isKnownG(code: number): boolean {
  return MOTION_G.has(code) || IDLE_G.has(code) || MODE_G.has(code) || OTHER_G.has(code);
}

function hasAxisWord(block: Block): boolean {
  return AXES.some((axis) => block.values.has(axis));
}

function noteUnknownWords(state: ModalState, block: Block): void {
  const unknown = [
    ...[...block.g].filter((code) => !isKnownG(code)).map((code) => `G${code / 10}`),
    ...[...block.m]
      .filter((code) => !KNOWN_M.has(code) && !SUBPROGRAM_M.has(code))
      .map((code) => `M${code}`),
    ...[...block.values]
      .filter(([letter]) => !KNOWN_LETTERS.includes(letter))
      .map(([l, v]) => l + v),
  ];
  for (const word of unknown) state.notes.add('PROGRAM_WORDS_PASSED_OVER', block.line, word);
}

function setSpindle(state: ModalState, block: Block): void {
  const wasOn = isSpindleOn(state);
  const speed = block.values.get('S');
  if (speed !== undefined) state.speed = speed;
  if (block.m.has(3) || block.m.has(4)) state.spindle = 'on';
  if (block.m.has(5)) state.spindle = 'off';
  if (wasOn && !isSpindleOn(state)) state.spindleSession += 1;
}

function isSpindleOn(state: ModalState): boolean {
  return state.spindle === 'on' && state.speed > 0;
}

function setModes(state: ModalState, block: Block): void {
  for (const code of block.g) {
    if (code === 170 || code === 180 || code === 190) state.plane = code;
    else if (code === 200) setUnits(state, 'inch');
    else if (code === 210) setUnits(state, 'mm');
    else if (code === 900) state.isIncremental = false;
    else if (code === 910) state.isIncremental = true;
    else if (code === 901) state.areCentresAbsolute = true;
    else if (code === 911) state.areCentresAbsolute = false;
    else if (MOTION_G.has(code)) state.motionCode = code;
    else if (MODE_G.has(code) && code !== state.system) {
      state.system = code;
      forgetPosition(state, [0, 1, 2]);
    }
  }
}

function setUnits(state: ModalState, units: 'mm' | 'inch'): void {
  state.mmPerUnit = units === 'mm' ? 1 : MM_PER_INCH;
  state.unitsSeen.add(units);
}

/** The position is no longer known; the sense of the last motion still is. */
function forgetPosition(state: ModalState, axes: readonly number[]): void {
  for (const axis of axes) state.position[axis] = undefined;
  if (axes.includes(0) || axes.includes(1)) state.countedFromLine = undefined;
}

/** G10, and G92.1 to G92.3: from here on, words mean other places, nobody knows which. */
function shiftCoordinates(state: ModalState): Outcome<void> {
  state.generation += 1;
  state.offsetMm = [0, 0];
  forgetPosition(state, [0, 1, 2]);
  return success(undefined);
}

/** G28 and G30: by way of an intermediate point to a place known to the machine alone. */
function moveToReference(state: ModalState, block: Block): Outcome<void> {
  state.notes.add('PROGRAM_REFERENCE_MOVES', block.line, block.g.has(280) ? 'G28' : 'G30');
  // Some controllers move only the axes named, others all: nothing is known of any.
  leaveToUnknown(state, block, [0, 1, 2]);
  return success(undefined);
}

function leaveToUnknown(state: ModalState, block: Block, axes: readonly number[]): void {
  const from: AxisPositions = [...state.position];
  forgetPosition(state, axes);
  for (const axis of axes) if (axis < 2) state.senses[axis] = 0;
  pushMotion(state, block, 'other', from, axes.includes(0) || axes.includes(1));
}

/** G92: the present position gets a new name. Marks stay in the coordinates of the first mark. */
function presetPosition(state: ModalState, block: Block): Outcome<void> {
  const hasMoved = state.hasFed;
  let isShifted = false;
  for (const [axis, letter] of AXES.entries()) {
    const word = block.values.get(letter);
    if (word === undefined) continue;
    const named = word * state.mmPerUnit;
    if (axis === 2) {
      state.position[2] = named;
      continue;
    }
    const now = state.position[axis];
    if (hasMoved && now !== undefined) {
      state.offsetMm[axis] = now - named;
    } else {
      // Nothing marked yet: the new coordinates are the ones that count.
      if (now === undefined || !hasMoved) isShifted = true;
      state.offsetMm[axis] = 0;
      state.position[axis] = named;
    }
  }
  if (isShifted) {
    state.generation += 1;
    state.countedFromLine = undefined;
  }
  return success(undefined);
}

function move(state: ModalState, block: Block): Outcome<void> {
  if (!hasAxisWord(block)) {
    const isWholeCircle =
      (state.motionCode === 20 || state.motionCode === 30) &&
      (block.values.has('I') || block.values.has('J'));
    if (!isWholeCircle) return success(undefined);
  }
  const code = state.motionCode;
  if (code === undefined || code === 800) {
    return invalidAt(
      { name: block.name, line: block.line },
      'axis words, but no motion code in force',
      'write G0 or G1 before them',
    );
  }
  if (state.unitsSeen.size === 0) state.notes.add('PROGRAM_UNITS_UNSTATED', block.line);
  if (block.g.has(530)) {
    state.notes.add('PROGRAM_REFERENCE_MOVES', block.line, 'G53');
    leaveToUnknown(state, block, axesNamed(block));
  } else if (PROBING_G.has(code)) {
    leaveToUnknown(state, block, axesNamed(block));
  } else if (DRILLING_G.has(code)) {
    drill(state, block);
  } else if (code === 20 || code === 30) {
    moveOnArc(state, block, code === 20 ? 'clockwise' : 'counterclockwise');
  } else {
    moveStraight(state, block, code === 0 ? 'rapid' : 'feed');
  }
  return success(undefined);
}

function axesNamed(block: Block): number[] {
  return AXES.flatMap((letter, axis) => (block.values.has(letter) ? [axis] : []));
}

function moveStraight(state: ModalState, block: Block, kind: MotionKind): void {
  const from: AxisPositions = [...state.position];
  const { start, senses, movesXY } = applyTargets(state, block, from, 1);
  for (const axis of [0, 1]) state.senses[axis] = senses[axis] ?? state.senses[axis]!;
  pushMotion(state, block, kind, start, movesXY);
}

/** A drilling cycle: X and Y move to the hole, Z comes back up to where it was. */
function drill(state: ModalState, block: Block): void {
  state.notes.add('PROGRAM_HOLES_PASSED_OVER', block.line);
  if (state.plane !== 170) {
    leaveToUnknown(state, block, [0, 1, 2]);
    return;
  }
  const from: AxisPositions = [...state.position];
  const repeats = state.isIncremental ? (block.values.get('L') ?? 1) : 1;
  const { start, senses, movesXY } = applyTargets(state, block, from, repeats);
  state.position[2] = from[2];
  for (const axis of [0, 1]) state.senses[axis] = senses[axis] ?? state.senses[axis]!;
  pushMotion(state, block, 'hole', start, movesXY);
}

function moveOnArc(state: ModalState, block: Block, turn: 'clockwise' | 'counterclockwise'): void {
  const from: AxisPositions = [...state.position];
  const { start } = applyTargets(state, block, from, 1);
  if (state.plane === 170) {
    const word = (letter: string) => {
      const value = block.values.get(letter);
      return value === undefined ? undefined : value * state.mmPerUnit;
    };
    const senses = arcEndSenses({
      from: [start[0], start[1]],
      to: [state.position[0], state.position[1]],
      turn,
      centreWords: [word('I'), word('J')],
      radiusWord: word('R'),
      centreOffset: state.areCentresAbsolute ? state.offsetMm : undefined,
    });
    state.senses = senses;
  } else {
    // In another plane X or Y is moved by the arc together with Z: not followed.
    state.senses = [0, 0];
  }
  pushMotion(state, block, 'arc', start, true);
}

/**
 * Moves the position to where the axis words say.
 *
 * @returns the start (an unknown start of an incremental move is counted as 0), the sense of X and
 * Y (undefined where the axis does not move, 0 where it comes from an unknown place).
 */
function applyTargets(
  state: ModalState,
  block: Block,
  from: AxisPositions,
  repeats: number,
): { start: AxisPositions; senses: [Approach?, Approach?]; movesXY: boolean } {
  const start: [number | undefined, number | undefined, number | undefined] = [...from];
  const senses: [Approach?, Approach?] = [undefined, undefined];
  let movesXY = false;
  if (state.isIncremental) countFromHere(state, block, start);
  else leaveCounting(state, block, start);

  for (const [axis, letter] of AXES.entries()) {
    const word = block.values.get(letter);
    if (word === undefined) {
      state.position[axis] = start[axis];
      continue;
    }
    const length = word * state.mmPerUnit;
    const origin = start[axis];
    const target = state.isIncremental
      ? origin === undefined
        ? undefined
        : origin + length * repeats
      : length + (axis < 2 ? state.offsetMm[axis]! : 0);
    state.position[axis] = target;
    if (axis > 1) continue;
    if (origin === undefined || target === undefined) {
      senses[axis] = 0;
      movesXY = true;
    } else {
      senses[axis] = senseOf(target - origin);
      if (senses[axis] !== undefined) movesXY = true;
    }
  }
  return { start, senses, movesXY };
}

/** An incremental move from an unknown place: that place is called X0 Y0 from now on. */
function countFromHere(
  state: ModalState,
  block: Block,
  start: [number | undefined, number | undefined, number | undefined],
): void {
  const isUnknown = (['X', 'Y'] as const).some(
    (letter, axis) => block.values.has(letter) && start[axis] === undefined,
  );
  if (!isUnknown) return;
  start[0] ??= 0;
  start[1] ??= 0;
  state.countedFromLine = block.line;
  state.notes.add('PROGRAM_START_ASSUMED', block.line);
}

/** The first absolute move behind counted ones: where it comes from is unknown after all. */
function leaveCounting(
  state: ModalState,
  block: Block,
  start: [number | undefined, number | undefined, number | undefined],
): void {
  if (state.countedFromLine === undefined) return;
  if (!block.values.has('X') && !block.values.has('Y')) return;
  start[0] = undefined;
  start[1] = undefined;
  state.countedFromLine = undefined;
}

function pushMotion(
  state: ModalState,
  block: Block,
  kind: MotionKind,
  from: AxisPositions,
  movesXY: boolean,
): void {
  if (kind === 'feed' && movesXY) state.hasFed = true;
  state.motions.push({
    kind,
    line: block.line,
    from,
    to: [...state.position],
    movesXY,
    isSpindleOn: isSpindleOn(state),
    spindleSession: state.spindleSession,
    coordinates: `${state.system}/${state.generation}/${state.countedFromLine ?? 'absolute'}`,
    approachX: state.senses[0],
    approachY: state.senses[1],
  });
}
