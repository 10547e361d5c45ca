/** G10, G52, G54 to G59.3, G68, G69, G92 to G92.3: from here on, words name other places. */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import { invalidAt } from './cursor.js';
import { AXES, type ModalState } from './modal-state.js';

const DEGREE = Math.PI / 180;

/** Codes of the nine systems, times ten, by number from 1 (NISTIR 6556, table 2). */
const SYSTEMS = [540, 550, 560, 570, 580, 590, 591, 592, 593];

/** Further systems by number (common practice, no source). */
const EXTENDED_SYSTEM = 541;
/** Keeps their numbers apart from the codes. */
const EXTENDED_BASE = 100_000;

/** Tables of tools: they shift nothing but Z, and that only where G43 calls for it. */
const TOOL_TABLES: ReadonlySet<number> = new Set([1, 10, 11]);

const PLAIN_HINT = 'write the positions of the marks out in plain coordinates';

/**
 * Carries out the code, if any, that changes coordinates. The tool does not move.
 *
 * @returns whether it was one that takes the axis words of the line.
 * Fails: PROGRAM_INVALID.
 */
export function changeCoordinates(state: ModalState, block: Block): Outcome<boolean> {
  if (block.g.size === 0) return success(false);
  const { coordinates } = state;
  const { g } = block;
  const before = coordinates.frames;
  const system = selectedSystem(block);
  if (system !== undefined && system !== coordinates.system) coordinates.select(system);
  if (g.has(690)) coordinates.rotation = undefined;

  let takesWords = true;
  let outcome: Outcome<void> = success(undefined);
  if (g.has(100)) outcome = setData(state, block);
  else if (g.has(520)) setLocal(state, block);
  else if (g.has(680)) outcome = rotate(state, block);
  else if (g.has(920)) presetPosition(state, block);
  else if (g.has(921) || g.has(922)) coordinates.clearPreset(g.has(922));
  else if (g.has(923)) coordinates.restorePreset();
  else takesWords = false;
  if (!outcome.ok) return outcome;

  if (coordinates.frames === before) return success(takesWords);
  renameZ(state, block, before[2]);
  return coordinates.rotation !== undefined && haveMoved(before, coordinates.frames)
    ? refuseShift(block)
    : success(takesWords);
}

function selectedSystem({ g, values }: Block): number | undefined {
  for (const code of g.keys()) {
    if (code >= 540 && code <= 593 && SYSTEMS.includes(code)) return code;
    if (code === EXTENDED_SYSTEM) return EXTENDED_BASE + (values.get('P') ?? 1);
  }
  return undefined;
}

/** G10. Which offsets a form changes that is not known here is not known either: all of them. */
function setData(state: ModalState, block: Block): Outcome<void> {
  const { coordinates, isIncremental, mmPerUnit } = state;
  const { values } = block;
  const form = values.get('L');
  if (form !== 2 && form !== 20) {
    if (form === undefined || !TOOL_TABLES.has(form)) coordinates.loseAllOrigins();
    return success(undefined);
  }
  const system = systemNamed(state, values.get('P'));
  if (system === undefined) {
    return refuse(block, `G10 L${form} names no coordinate system`, 'expected P1 to P9');
  }
  if (values.has('R') && values.get('R') !== 0) {
    return refuse(block, 'G10 with R (a turned coordinate system) is not followed', PLAIN_HINT);
  }
  for (const axis of [0, 1, 2] as const) {
    const word = values.get(AXES[axis]);
    if (word === undefined) continue;
    const lengthMm = word * mmPerUnit;
    if (form === 20) setOriginHere(state, system, axis, lengthMm);
    // In G91 some controllers add the words, others do not.
    else if (isIncremental) coordinates.loseOrigin(system, axis);
    else coordinates.setOrigin(system, axis, lengthMm);
  }
  return success(undefined);
}

/** G10 L20: the present position is to be called by the word. */
function setOriginHere(state: ModalState, system: number, axis: 0 | 1 | 2, wordMm: number): void {
  const { coordinates } = state;
  const at = state.position[axis];
  if (axis === 2) {
    const { anchor, offsetMm } = coordinates.frames[2];
    if (at === undefined) coordinates.loseOrigin(system, axis);
    else coordinates.setOriginHere(system, axis, anchor, at + offsetMm, wordMm);
    return;
  }
  if (at !== undefined) {
    coordinates.setOriginHere(system, axis, state.anchors[axis], at, wordMm);
    const { anchor } = coordinates.frameOf(system, axis);
    // Not related to where the position was known: known in the system from here on.
    if (anchor === state.anchors[axis] || system !== coordinates.system) return;
  } else {
    coordinates.loseOrigin(system, axis);
  }
  callPosition(state, axis, coordinates.frameOf(system, axis), wordMm);
}

function callPosition(
  state: ModalState,
  axis: 0 | 1,
  frame: ModalState['coordinates']['frames'][0],
  wordMm: number,
): void {
  const [x, y, z] = state.position;
  const at = wordMm + frame.offsetMm;
  state.position = axis === 0 ? [at, y, z] : [x, at, z];
  state.anchors[axis] = frame.anchor;
}

function setLocal({ coordinates, mmPerUnit }: ModalState, { values }: Block): void {
  for (const axis of [0, 1, 2] as const) {
    const word = values.get(AXES[axis]);
    if (word !== undefined) coordinates.setLocal(axis, word * mmPerUnit);
  }
}

/** G92: the present position gets a new name (NISTIR 6556, section 3.5.18). */
function presetPosition(state: ModalState, { values }: Block): void {
  const { coordinates, mmPerUnit } = state;
  for (const axis of [0, 1, 2] as const) {
    const word = values.get(AXES[axis]);
    if (word === undefined) continue;
    const named = word * mmPerUnit;
    const frame = coordinates.frames[axis];
    const at = state.position[axis];
    if (axis === 2) {
      if (at === undefined) coordinates.losePreset(axis);
      else coordinates.shiftPreset(axis, at - named);
    } else if (at !== undefined && state.anchors[axis] === frame.anchor) {
      coordinates.shiftPreset(axis, at - frame.offsetMm - named);
    } else {
      coordinates.losePreset(axis);
      callPosition(state, axis, coordinates.frames[axis], named);
    }
  }
}

/** G68: where its centre comes from without X and Y, and what R means in G91, controllers disagree. */
function rotate(state: ModalState, block: Block): Outcome<void> {
  const { coordinates, mmPerUnit, plane, isIncremental } = state;
  const [x, y, angle] = ['X', 'Y', 'R'].map((letter) => block.values.get(letter));
  if (plane !== 170) return refuse(block, 'G68 outside the XY plane is not followed', PLAIN_HINT);
  if (isIncremental) {
    return refuse(block, 'G68 in G91 means different things to controllers', 'write G90 before it');
  }
  if (x === undefined || y === undefined || angle === undefined) {
    return refuse(block, 'G68 needs X and Y (the centre) and R (the angle)', 'write all three');
  }
  coordinates.rotation = {
    centreMm: [x * mmPerUnit, y * mmPerUnit],
    cosine: Math.cos(angle * DEGREE),
    sine: Math.sin(angle * DEGREE),
  };
  return success(undefined);
}

/** Z of the tool in the coordinates behind the change: as it was called, or unknown. */
function renameZ(
  state: ModalState,
  { g, values }: Block,
  before: ModalState['coordinates']['frames'][2],
): void {
  const [x, y, z] = state.position;
  const after = state.coordinates.frames[2];
  const word = values.get('Z');
  const isHere = g.has(100) && values.get('L') === 20;
  const isCurrent = isHere && systemNamed(state, values.get('P')) === state.coordinates.system;
  if (word !== undefined && (g.has(920) || isCurrent)) {
    state.position = [x, y, word * state.mmPerUnit];
  } else if (z !== undefined && before !== after) {
    const isKnown = before.anchor === after.anchor;
    state.position = [x, y, isKnown ? z + before.offsetMm - after.offsetMm : undefined];
  }
}

function systemNamed({ coordinates }: ModalState, number: number | undefined): number | undefined {
  return number === 0 ? coordinates.system : SYSTEMS[(number ?? 0) - 1];
}

function haveMoved(
  before: ModalState['coordinates']['frames'],
  after: ModalState['coordinates']['frames'],
): boolean {
  return [0, 1].some((axis) => {
    const [one, other] = [before[axis]!, after[axis]!];
    return one.anchor !== other.anchor || one.offsetMm !== other.offsetMm;
  });
}

function refuseShift(block: Block): ReturnType<typeof refuse> {
  return refuse(block, 'coordinates are shifted while G68 turns them', 'write G69 before it');
}

function refuse(block: Block, message: string, hint: string): ReturnType<typeof invalidAt> {
  const column = Math.min(...block.g.values());
  return invalidAt({ name: block.name, line: block.line, column }, message, hint);
}
