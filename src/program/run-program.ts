/** Executes a program line by line, in the order its loops and subprograms give. */

import { type Finding, type Outcome, success } from '../quantity/index.js';
import { arrangeWords, type Block } from './arrange-words.js';
import { invalidAt } from './cursor.js';
import { evaluateLine } from './evaluate-line.js';
import { readFlowStructure } from './flow-structure.js';
import { Flow } from './follow-flow.js';
import { interpretBlock } from './interpret-block.js';
import { type ModalState, startingState } from './modal-state.js';
import { Notes } from './notes.js';
import { Parameters } from './parameters.js';
import { type ScannedLine, scanLine } from './scan-line.js';

export interface ProgramRun {
  readonly state: ModalState;
  readonly notes: Notes;
  readonly endFinding: Finding | undefined;
}

/** A line that has just been carried out, and the state behind it, which the next line changes. */
export interface Execution {
  /** From 0. */
  readonly index: number;
  readonly scanned: ScannedLine;
  readonly block: Block;
  readonly state: ModalState;
}

/**
 * Lines that loops and subprograms may execute beyond one pass through the text: seconds of
 * computing, a hundred times what a grid needs.
 */
const MOST_REPEATED_LINES = 1_000_000;

/** Characters. A longer line counts as several, so that long expressions make no long wait. */
const COUNTED_LINE_LENGTH = 64;

/**
 * Executes up to M2, M30 or the second `%`: what stands behind is not even scanned, subprograms that
 * are called aside.
 *
 * @param onExecuted told of each line, in the order of execution; blank and skipped lines aside.
 * Fails: PROGRAM_INVALID (with the line), also where the program does not come to an end.
 */
export function runProgram(
  name: string,
  text: string,
  blockDelete: boolean,
  onExecuted?: (execution: Execution) => void,
): Outcome<ProgramRun> {
  const notes = new Notes();
  const state = startingState(notes);
  const lines = text.replace(/^\ufeff/, '').split(/\r\n|\n|\r/);
  const parameters = new Parameters();
  const flow = new Flow(name, parameters, () => readFlowStructure(name, lines, blockDelete));
  const read = new LineReader(name, lines, flow);
  let allowance = MOST_REPEATED_LINES + lines.length + text.length / COUNTED_LINE_LENGTH;
  let isDemarcated = false;
  let isFirst = true;
  let isClosed = false;

  for (let index = 0; index < lines.length; ) {
    const line = index + 1;
    const lineText = lines[index]!;
    allowance -= 1 + Math.floor(lineText.length / COUNTED_LINE_LENGTH);
    if (allowance < 0) return refuseEndless(name, line);
    if (lineText.trim() === '') {
      index += 1;
      continue;
    }
    if (blockDelete && /^\s*\//.test(lineText)) {
      notes.add('PROGRAM_LINES_SKIPPED', line);
      index += 1;
      continue;
    }
    const scanned = read.line(index);
    if (!scanned.ok) return scanned;
    if (scanned.value.isPercent) {
      isClosed = isDemarcated || !isFirst;
      if (isClosed) break;
      isDemarcated = true;
    }
    isFirst = false;
    const block = read.block(index, scanned.value, parameters);
    if (!block.ok) return block;
    const done = interpretBlock(state, block.value);
    if (!done.ok) return done;
    onExecuted?.({ index, scanned: scanned.value, block: block.value, state });
    if (state.hasEnded) break;

    const next = findNext(flow, index, scanned.value, block.value);
    if (!next.ok) return next;
    index = next.value;
  }
  const ended = state.hasEnded ? success(undefined) : flow.checkEnd();
  if (!ended.ok) return ended;
  const endFinding = state.hasEnded || isClosed ? undefined : describeMissingEnd(name);
  return success({ state, notes, endFinding });
}

interface KeptLine {
  readonly scanned: ScannedLine;
  /** Where nothing in it is computed. */
  block: Block | undefined;
}

/** Lines that are kept for their next execution; more than a loop has, little memory. */
const MOST_KEPT_LINES = 10_000;

/** Scans lines, once only where they come again and again. */
class LineReader {
  readonly #name: string;
  readonly #lines: readonly string[];
  readonly #flow: Flow;
  readonly #kept = new Map<number, KeptLine>();

  constructor(name: string, lines: readonly string[], flow: Flow) {
    this.#name = name;
    this.#lines = lines;
    this.#flow = flow;
  }

  line(index: number): Outcome<ScannedLine> {
    const kept = this.#kept.get(index);
    if (kept !== undefined) return success(kept.scanned);
    const scanned = scanLine(this.#name, index + 1, this.#lines[index]!);
    if (scanned.ok && this.#flow.hasJumped && this.#kept.size < MOST_KEPT_LINES) {
      this.#kept.set(index, { scanned: scanned.value, block: undefined });
    }
    return scanned;
  }

  block(index: number, scanned: ScannedLine, parameters: Parameters): Outcome<Block> {
    const kept = this.#kept.get(index);
    if (kept?.block !== undefined) return success(kept.block);
    const words = evaluateLine(this.#name, scanned, parameters);
    if (!words.ok) return words;
    const block = arrangeWords(this.#name, scanned.line, words.value);
    const isPlain = scanned.computed.length === 0 && scanned.settings.length === 0;
    if (block.ok && kept !== undefined && isPlain) kept.block = block.value;
    return block;
  }
}

function findNext(flow: Flow, index: number, scanned: ScannedLine, block: Block): Outcome<number> {
  if (scanned.flow !== undefined && scanned.flow.keyword !== 'label') {
    return flow.follow(index, scanned);
  }
  if (block.m.has(98) || block.m.has(99)) return flow.followCodes(index, block);
  return success(index + 1);
}

function refuseEndless(name: string, line: number): ReturnType<typeof invalidAt> {
  return invalidAt(
    { name, line },
    `loops and subprograms execute more than ${MOST_REPEATED_LINES} lines: given up here`,
    'does a loop or a subprogram never end?',
  );
}

function describeMissingEnd(name: string): Finding {
  return {
    code: 'PROGRAM_END_MISSING',
    message: 'the program has no end (M2, M30 or a second %)',
    hint: 'see that the file was not cut short: missing marks spoil the search for the grid',
    where: name,
  };
}
