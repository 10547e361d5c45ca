/**
 * Takes one line of RS-274/NGC text apart into words. Knows letters, numbers, comments and spaces,
 * nothing of what the words mean.
 */

import { type Failure, failed, type Outcome, success } from '../quantity/index.js';

export interface Word {
  /** Capital letter. */
  readonly letter: string;
  readonly value: number;
  /** Column of the letter in the line, from 1. */
  readonly column: number;
}

export interface ScannedLine {
  /** Line of the program text, from 1. */
  readonly line: number;
  /** The line starts with `/`. */
  readonly blockDelete: boolean;
  /** The line holds `%` and nothing else. */
  readonly isPercent: boolean;
  readonly words: readonly Word[];
}

/** A place in a line that is being read. The line is not copied: columns stay those of the file. */
interface Cursor {
  readonly name: string;
  readonly line: number;
  readonly text: string;
  at: number;
}

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
  let blockDelete = false;

  skipBlanks(cursor);
  if (text.slice(cursor.at).trimEnd() === '%') {
    return success({ line, blockDelete, isPercent: true, words });
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
    const word = readWord(cursor);
    if (!word.ok) return word;
    words.push(word.value);
  }
  return success({ line, blockDelete, isPercent: false, words });
}

/** A failure that names line and column. */
export function invalidAt(
  place: { readonly name: string; readonly line: number; readonly column?: number },
  message: string,
  hint: string,
): { readonly ok: false; readonly failure: Failure } {
  const { name, line, column } = place;
  const at = column === undefined ? `line ${line}` : `line ${line}, column ${column}`;
  return failed('PROGRAM_INVALID', `${at}: ${message}`, {
    where: name,
    hint,
    figures: column === undefined ? { line } : { line, column },
  });
}

function skipBlanks(cursor: Cursor): void {
  while (isBlank(cursor.text[cursor.at])) cursor.at += 1;
}

function isBlank(character: string | undefined): boolean {
  // U+00A0 and U+FEFF come in through word processors, U+001A ended files on old systems.
  return character !== undefined && /[\s\u00a0\ufeff\u001a]/.test(character);
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

function readWord(cursor: Cursor): Outcome<Word> {
  const column = cursor.at + 1;
  const character = cursor.text[cursor.at]!;
  const letter = character.toUpperCase();
  if (character === '#') return refuseParameter(cursor);
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
  if (letter === 'O') {
    return fault(
      cursor,
      'O words (subprograms, loops) are not read',
      'let the generator write the program out in full, without subprograms',
    );
  }
  cursor.at += 1;
  const value = readValue(cursor, letter);
  return value.ok ? success({ letter, value: value.value, column }) : value;
}

/** The value behind a letter. The place where parameters and expressions would be read. */
function readValue(cursor: Cursor, letter: string): Outcome<number> {
  skipBlanks(cursor);
  const character = cursor.text[cursor.at];
  if (character === '#') return refuseParameter(cursor);
  if (character === '[' || (character !== undefined && /[a-z]/i.test(character))) {
    return isFunctionOrBracket(cursor)
      ? fault(
          cursor,
          'expressions are not read',
          'write the number itself, or let the generator write plain numbers',
        )
      : fault(cursor, `${letter} has no number`, `write a number behind ${letter}`);
  }
  return readNumber(cursor, letter);
}

function isFunctionOrBracket(cursor: Cursor): boolean {
  const ahead = cursor.text.slice(cursor.at).replace(/\s/g, '');
  return /^(\[|(abs|acos|asin|atan|cos|exp|fix|fup|ln|round|sin|sqrt|tan)\[)/i.test(ahead);
}

function readNumber(cursor: Cursor, letter: string): Outcome<number> {
  const start = cursor.at;
  let digits = '';
  for (;;) {
    skipBlanks(cursor);
    const character = cursor.text[cursor.at];
    const isSign = (character === '+' || character === '-') && digits === '';
    const isPoint = character === '.' && !digits.includes('.');
    if (character === undefined || !(isSign || isPoint || /\d/.test(character))) break;
    digits += character;
    cursor.at += 1;
  }
  if (!/\d/.test(digits)) {
    cursor.at = start;
    return fault(cursor, `${letter} has no number`, `write a number behind ${letter}`);
  }
  const next = cursor.text[cursor.at];
  if (next === ',') {
    return fault(cursor, 'a number with a comma', 'write the decimal sign as a point');
  }
  return success(Number(digits));
}

function refuseParameter(cursor: Cursor): ReturnType<typeof fault> {
  return fault(
    cursor,
    'parameters (#) are not read',
    'write the numbers themselves, or let the generator write plain numbers',
  );
}

function shown(character: string): string {
  const code = character.codePointAt(0)!;
  return code > 32 && code < 127 ? character : `the character U+${code.toString(16)}`;
}

function fault(cursor: Cursor, message: string, hint: string): ReturnType<typeof invalidAt> {
  return invalidAt({ name: cursor.name, line: cursor.line, column: cursor.at + 1 }, message, hint);
}
