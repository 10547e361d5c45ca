/** Drilling cycles: G73, G76, G81 to G89. */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import { invalidAt } from './cursor.js';
import { leaveToUnknown, MOST_REPEATS, type ModalState, pushMotion } from './modal-state.js';
import { NO_MOVE_MM } from './motion.js';
import { settleTargets } from './settle-targets.js';

/**
 * Drills, once or, with L in G91, in a row. Where the tool is below R, it goes up to R first; behind
 * each hole it is at R (G99), or at the Z it came from where that is higher (G98).
 *
 * Fails: PROGRAM_INVALID (R or Z missing, R below Z, L no count).
 * Source: NISTIR 6556, section 3.5.16; G73 and G76 alike (common practice, no source). Unlike there,
 * R and Z hold for another cycle as well, up to G80 or a move (common practice, no source).
 */
export function drill(state: ModalState, block: Block): Outcome<void> {
  if (state.plane !== 170) {
    state.notes.add('PROGRAM_HOLES_PASSED_OVER', block.line, 'not along Z');
    leaveToUnknown(state, block, [0, 1, 2]);
    return success(undefined);
  }
  const repeats = countRepeats(state, block);
  if (!repeats.ok) return repeats;
  const heights = settleHeights(state, block);
  if (!heights.ok) return heights;
  const { retractMm, bottomMm, afterMm } = heights.value;

  const shape = { kind: 'cycle', bottomMm, retractMm } as const;
  for (let round = 0; round < repeats.value; round += 1) {
    const { from, movesXY } = settleTargets(state, block, 2);
    state.position = [state.position[0], state.position[1], afterMm];
    pushMotion(state, block, 'cycle', from, movesXY, shape);
  }
  return success(undefined);
}

/** In G90 repeats fall on the same place: they are one hole. */
function countRepeats(state: ModalState, block: Block): Outcome<number> {
  const count = block.values.get('L');
  if (count === undefined) return success(1);
  if (!Number.isInteger(count) || count < 1) {
    return refuse(block, 'L', `L${count} is no count of holes`, 'expected a whole number from 1');
  }
  if (!state.isIncremental) return success(1);
  state.repeatsLeft -= count;
  if (state.repeatsLeft < 0) {
    return refuse(
      block,
      'L',
      `cycles are repeated more than ${MOST_REPEATS} times: given up here`,
      'is L the count of holes that is meant?',
    );
  }
  return success(count);
}

interface Heights {
  readonly retractMm: number | undefined;
  readonly bottomMm: number | undefined;
  readonly afterMm: number | undefined;
}

function settleHeights(state: ModalState, block: Block): Outcome<Heights> {
  const wordOf = (letter: 'R' | 'Z', before: number | undefined) => {
    const word = block.values.get(letter);
    return word === undefined ? before : word * state.mmPerUnit;
  };
  const r = wordOf('R', state.cycleWords.r);
  const z = wordOf('Z', state.cycleWords.z);
  if (r === undefined || z === undefined) {
    const missing = r === undefined ? 'R, the plane above the hole' : 'Z, the bottom of the hole';
    return refuse(
      block,
      'G',
      `the drilling cycle has no ${missing}`,
      'write R and Z with the first hole',
    );
  }
  state.cycleWords = { r, z };
  const start = state.position[2];
  const base = start ?? Number.NaN;
  const retract = state.isIncremental ? base + r : r;
  const bottom = state.isIncremental ? retract + z : z;
  if (bottom > retract + NO_MOVE_MM) {
    return refuse(block, 'R', 'the plane R lies below the bottom Z', 'correct R or Z');
  }
  return success({
    retractMm: known(retract),
    bottomMm: known(bottom),
    afterMm: known(state.returnsToR ? retract : Math.max(base, retract)),
  });
}

/** What was computed from an unknown height is unknown. */
function known(mm: number): number | undefined {
  return Number.isNaN(mm) ? undefined : mm;
}

function refuse(
  block: Block,
  letter: string,
  message: string,
  hint: string,
): ReturnType<typeof invalidAt> {
  const { name, line, columns } = block;
  const column = columns.get(letter);
  return invalidAt(column === undefined ? { name, line } : { name, line, column }, message, hint);
}
