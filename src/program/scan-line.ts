/**
 * Takes one line of RS-274/NGC text apart into words, settings and a flow word. Knows letters,
 * numbers, expressions, comments and spaces, nothing of what the words mean.
 */

import { type Outcome, success } from '../quantity/index.js';
import { type Cursor, fault, peek, readNumber, shown, skipBlanks } from './cursor.js';
import {
  type Expression,
  type ParameterName,
  readParameter,
  readValue,
} from './read-expression.js';
import { type FlowWord, readFlowWord } from './read-flow-word.js';

export interface Word {
  /** Capital letter. */
  readonly letter: string;
  readonly value: number;
  /** Column of the letter in the line, from 1. */
  readonly column: number;
}

/** A word whose number is to be computed. */
export interface ComputedWord extends Omit<Word, 'value'> {
  readonly expression: Expression;
}

/** `#3=15` */
export interface Setting {
  readonly parameter: ParameterName;
  readonly value: Expression;
  readonly column: number;
}

export interface ScannedLine {
  /** Line of the program text, from 1. */
  readonly line: number;
  /** The line starts with `/`. */
  readonly blockDelete: boolean;
  /** The line holds `%` and nothing else. */
  readonly isPercent: boolean;
  /** In the order of the line. Computed ones stand in {@link computed}. */
  readonly words: readonly Word[];
  readonly computed: readonly ComputedWord[];
  readonly settings: readonly Setting[];
  readonly flow: FlowWord | undefined;
}

/** Shared, for most lines have none: a long program would make millions of empty lists. */
const NONE: readonly never[] = [];

/**
 * Scans one line. Spaces and tabs mean nothing outside comments, letter case means nothing, a
 * number has an optional sign, digits and an optional point, no exponent. Beyond the standard, a
 * `;` opens a comment up to the end of the line (common practice, no source), and lines may be
 * longer than 256 characters.
 *
 * @param name what the program is called in failures.
 * @param line line number, from 1.
 * Fails: PROGRAM_INVALID, with line and column.
 * Source: T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC Interpreter - Version 3,
 * NISTIR 6556 (2000), section 3.3.
 */
export function scanLine(name: string, line: number, text: string): Outcome<ScannedLine> {
  const cursor: Cursor = { name, line, text, at: 0 };
  const words: Word[] = [];
  const lists: Lists = { words, computed: undefined, settings: undefined };
  let blockDelete = false;
  let flow: FlowWord | undefined;

  skipBlanks(cursor);
  if (text[cursor.at] === '%' && text.slice(cursor.at).trimEnd() === '%') {
    return success({
      line,
      blockDelete,
      isPercent: true,
      words,
      computed: NONE,
      settings: NONE,
      flow,
    });
  }
  if (text[cursor.at] === '/') {
    blockDelete = true;
    cursor.at += 1;
  }
  for (;;) {
    skipBlanks(cursor);
    const character = text[cursor.at];
    if (character === undefined || character === ';') break;
    if (character === '(') {
      const comment = skipComment(cursor);
      if (!comment.ok) return comment;
      continue;
    }
    if (flow !== undefined && flow.keyword !== 'label') {
      return fault(
        cursor,
        `${shown(character)} stands behind ${flow.keyword.toUpperCase()}`,
        'put it on a line of its own',
      );
    }
    if (character === 'O' || character === 'o') {
      const read = readFlow(cursor, flow, lists);
      if (!read.ok) return read;
      flow = read.value;
      continue;
    }
    const read = character === '#' ? readSetting(cursor, lists) : readWord(cursor, lists);
    if (!read.ok) return read;
  }
  return success({
    line,
    blockDelete,
    isPercent: false,
    words,
    computed: lists.computed ?? NONE,
    settings: lists.settings ?? NONE,
    flow,
  });
}

/** What a line is taken apart into. */
interface Lists {
  readonly words: Word[];
  computed: ComputedWord[] | undefined;
  settings: Setting[] | undefined;
}

function skipComment(cursor: Cursor): Outcome<void> {
  const opened = cursor.at;
  for (cursor.at += 1; cursor.at < cursor.text.length; cursor.at += 1) {
    const character = cursor.text[cursor.at];
    if (character === ')') {
      cursor.at += 1;
      return success(undefined);
    }
    if (character === '(') {
      return fault(cursor, 'a comment inside a comment', 'take the inner brackets out of it');
    }
  }
  cursor.at = opened;
  return fault(cursor, 'the comment opened here is not closed', 'close it with ) on the same line');
}

/** An O word stands first in its line, a line number aside. */
function readFlow(cursor: Cursor, before: FlowWord | undefined, lists: Lists): Outcome<FlowWord> {
  const isFirst =
    before === undefined &&
    lists.computed === undefined &&
    lists.settings === undefined &&
    lists.words.every((word) => word.letter === 'N');
  return isFirst
    ? readFlowWord(cursor)
    : fault(cursor, 'an O word must stand first in its line', 'put it on a line of its own');
}

function readSetting(cursor: Cursor, lists: Lists): Outcome<void> {
  const column = cursor.at + 1;
  const parameter = readParameter(cursor);
  if (!parameter.ok) return parameter;
  if (peek(cursor) !== '=') {
    return fault(cursor, 'a parameter without = or a letter before it', 'write #1=5 or X#1');
  }
  cursor.at += 1;
  peek(cursor);
  const value = readValue(cursor, '=');
  if (!value.ok) return value;
  lists.settings ??= [];
  lists.settings.push({ parameter: parameter.value, value: value.value, column });
  return success(undefined);
}

function readWord(cursor: Cursor, lists: Lists): Outcome<void> {
  const column = cursor.at + 1;
  const character = cursor.text[cursor.at]!;
  const letter = character.toUpperCase();
  if (character === '%') {
    return fault(cursor, '% stands among other words', 'put % on a line of its own');
  }
  if (!/^[A-Z]$/.test(letter)) {
    return fault(
      cursor,
      `a word must start with a letter, found ${shown(character)}`,
      'expected RS-274/NGC text such as G1 X100 Y50; is this the right file?',
    );
  }
  cursor.at += 1;
  const next = peek(cursor);
  if (next !== undefined && /[\d.]/.test(next)) {
    // The plain number of nearly every word, without the detour of an expression.
    const value = readNumber(cursor, letter);
    if (!value.ok) return value;
    lists.words.push({ letter, value: value.value, column });
    return success(undefined);
  }
  const value = readValue(cursor, letter);
  if (!value.ok) return value;
  if (value.value.kind === 'number') {
    lists.words.push({ letter, value: value.value.value, column });
  } else {
    lists.computed ??= [];
    lists.computed.push({ letter, expression: value.value, column });
  }
  return success(undefined);
}
