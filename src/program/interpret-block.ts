/**
 * The modal interpreter: what one line does to the state of the machine, and the motions it makes.
 * Follows the order of execution of NISTIR 6556, table 8.
 */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import { changeCoordinates } from './change-coordinates.js';
import { invalidAt } from './cursor.js';
import { drill } from './drill.js';
import {
  DRILLING_G,
  isKnownG,
  isKnownLetter,
  isKnownM,
  LOCAL_CALL_M,
  PROBING_G,
  REFUSED_G,
} from './known-codes.js';
import { AXES, hasAxisWord, leaveToUnknown, type ModalState, pushMotion } from './modal-state.js';
import { moveOnArc, namesCentre } from './move-on-arc.js';
import { setModes } from './set-modes.js';
import { settleTargets } from './settle-targets.js';

/** Words that are lengths. */
const LENGTH_LETTERS = 'XYZIJKR';

/** Ten kilometres or more: no machine. Keeps sums of lengths far from what numbers cannot hold. */
const LONGEST_WORD = 1e7;

/**
 * Carries out one line.
 *
 * Fails: PROGRAM_INVALID (a code that moves marks in a way not followed here; axis words without a
 * motion code in force; what arcs, cycles and coordinates fail with).
 */
export function interpretBlock(state: ModalState, block: Block): Outcome<void> {
  const refusal = refuseCodes(block);
  if (refusal !== undefined) return refusal;
  noteUnknownWords(state, block);
  noteStops(state, block);
  setModes(state, block);
  const changed = changeCoordinates(state, block);
  if (!changed.ok) return changed;

  if (block.g.has(280) || block.g.has(300)) {
    moveToReference(state, block);
  } else if (!changed.value) {
    const moved = move(state, block);
    if (!moved.ok) return moved;
  }
  state.hasEnded = block.m.has(2) || block.m.has(30);
  return success(undefined);
}

function refuseCodes({
  name,
  line,
  g,
  m,
  values,
  columns,
}: Block): ReturnType<typeof invalidAt> | undefined {
  for (const [code, column] of g) {
    const place = { name, line, column };
    const meaning = REFUSED_G.get(code);
    if (meaning !== undefined) {
      return invalidAt(
        place,
        `G${code / 10} (${meaning}) is not followed`,
        'write the positions of the marks out in plain coordinates',
      );
    }
    if (!isKnownG(code) && AXES.some((axis) => values.has(axis))) {
      return invalidAt(
        place,
        `G${code / 10} with axis words is not known`,
        'mark the grid with G0 and G1 moves',
      );
    }
  }
  if (m.has(LOCAL_CALL_M)) {
    return invalidAt(
      { name, line, column: m.get(LOCAL_CALL_M)! },
      'M97 (a subprogram by line number) is not followed',
      'call it with M98, or let the generator write the program out in full',
    );
  }
  for (const [letter, value] of values) {
    if (Math.abs(value) > LONGEST_WORD && LENGTH_LETTERS.includes(letter)) {
      return invalidAt(
        { name, line, column: columns.get(letter)! },
        `${letter}${value} is longer than any machine`,
        'correct the number',
      );
    }
  }
  return undefined;
}

function noteUnknownWords({ notes }: ModalState, { line, g, m, values, columns }: Block): void {
  const note = (word: string, column: number) => {
    notes.add('PROGRAM_WORDS_PASSED_OVER', line, `${word} at column ${column}`);
  };
  for (const [code, column] of g) if (!isKnownG(code)) note(`G${code / 10}`, column);
  for (const [code, column] of m) if (!isKnownM(code)) note(`M${code}`, column);
  for (const [letter, value] of values) {
    if (!isKnownLetter(letter)) note(`${letter}${value}`, columns.get(letter)!);
  }
}

function noteStops({ stops }: ModalState, { line, m }: Block): void {
  if (m.size === 0 || stops.has(line)) return;
  if (m.has(1)) stops.set(line, true);
  else if (m.has(0) || m.has(60)) stops.set(line, false);
}

/** G28 and G30: by way of an intermediate point to a place known to the machine alone. */
function moveToReference(state: ModalState, block: Block): void {
  state.notes.add('PROGRAM_REFERENCE_MOVES', block.line, block.g.has(280) ? 'G28' : 'G30');
  // Some controllers move only the axes named, others all: nothing is known of any.
  leaveToUnknown(state, block, [0, 1, 2]);
}

function move(state: ModalState, block: Block): Outcome<void> {
  const code = state.motionCode;
  const isArc = code === 20 || code === 30;
  if (!hasAxisWord(block) && !(isArc && namesCentre(state, block))) return success(undefined);
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
    return drill(state, block);
  } else if (isArc) {
    return moveOnArc(state, block, code === 20);
  } else {
    const { from, movesXY } = settleTargets(state, block, 3);
    pushMotion(state, block, code === 0 ? 'rapid' : 'feed', from, movesXY, undefined);
  }
  return success(undefined);
}

function axesNamed(block: Block): number[] {
  return AXES.flatMap((letter, axis) => (block.values.has(letter) ? [axis] : []));
}
