/** A place in a line that is being read, and the smallest steps of reading: blanks, numbers, letters. */

import { type Failure, failed, type Outcome, success } from '../quantity/index.js';

/** The line is not copied: columns stay those of the file. */
export interface Cursor {
  readonly name: string;
  readonly line: number;
  readonly text: string;
  at: number;
}

export interface Place {
  readonly name: string;
  readonly line: number;
  readonly column?: number;
}

/** A failure that names line and column. */
export function invalidAt(
  place: Place,
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

/** A failure at the character that is to be read next. */
export function fault(cursor: Cursor, message: string, hint: string): ReturnType<typeof invalidAt> {
  return invalidAt({ name: cursor.name, line: cursor.line, column: cursor.at + 1 }, message, hint);
}

export function skipBlanks(cursor: Cursor): void {
  while (isBlank(cursor.text[cursor.at])) cursor.at += 1;
}

function isBlank(character: string | undefined): boolean {
  if (character === undefined) return false;
  // Asked for every character of a long program: most are none.
  if (character > ' ' && character <= '~') return false;
  // U+00A0 and U+FEFF come in through word processors, U+001A ended files on old systems.
  return /[\s\u00a0\ufeff\u001a]/.test(character);
}

/** Skips blanks and returns the character behind them without taking it. */
export function peek(cursor: Cursor): string | undefined {
  skipBlanks(cursor);
  return cursor.text[cursor.at];
}

/**
 * Takes a word such as `while` or `**` if it stands next: spaces inside it and letter case mean
 * nothing. Otherwise the cursor stays where it was.
 */
export function takeWord(cursor: Cursor, word: string): boolean {
  const start = cursor.at;
  for (const character of word) {
    if (peek(cursor)?.toLowerCase() !== character) {
      cursor.at = start;
      return false;
    }
    cursor.at += 1;
  }
  return true;
}

/** The first of the words that stands next; a word that begins with another one must come first. */
export function takeOneOf<W extends string>(cursor: Cursor, words: readonly W[]): W | undefined {
  const first = peek(cursor)?.toLowerCase();
  return words.find((word) => word[0] === first && takeWord(cursor, word));
}

/** @param owner what the number belongs to, for failures: `X`. */
export function readNumber(cursor: Cursor, owner: string): Outcome<number> {
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
    return fault(cursor, `${owner} has no number`, `write a number behind ${owner}`);
  }
  const next = cursor.text[cursor.at];
  if (next === ',') {
    return fault(cursor, 'a number with a comma', 'write the decimal sign as a point');
  }
  return success(Number(digits));
}

/** The name of `<name>`, in small letters and without blanks; the cursor stands on `<`. */
export function readName(cursor: Cursor): Outcome<string> {
  const end = cursor.text.indexOf('>', cursor.at);
  if (end < 0) return fault(cursor, 'the name opened here is not closed', 'close it with >');
  const name = cursor.text
    .slice(cursor.at + 1, end)
    .replace(/\s/g, '')
    .toLowerCase();
  if (!/^[a-z0-9_.-]+$/.test(name)) {
    return fault(cursor, 'a name of other than letters, digits, _ . -', 'choose a plain name');
  }
  cursor.at = end + 1;
  return success(name);
}

export function shown(character: string): string {
  const code = character.codePointAt(0)!;
  return code > 32 && code < 127 ? character : `the character U+${code.toString(16)}`;
}
