/** Where the words of a line stand in its text, so that some can be replaced and all else kept. */

import { type Cursor, peek, skipBlanks } from './cursor.js';
import { readParameter, readValue } from './read-expression.js';
import { readFlowWord } from './read-flow-word.js';

export interface LocatedWord {
  /** Capital letter; `#` a parameter setting, `O` an O word with all that belongs to it. */
  readonly letter: string;
  /** Column of the letter, from 0. */
  readonly from: number;
  /** Behind the last character of its value. */
  readonly to: number;
}

export interface LocatedText {
  readonly words: readonly LocatedWord[];
  /** From the bracket or the semicolon on, in the order of the line. */
  readonly comments: readonly { readonly from: number; readonly to: number }[];
}

/** @param text one line that was scanned without a failure before; anything else throws. */
export function locateWords(text: string): LocatedText {
  const cursor: Cursor = { name: '', line: 1, text, at: 0 };
  const words: LocatedWord[] = [];
  const comments: { from: number; to: number }[] = [];
  skipBlanks(cursor);
  if (text[cursor.at] === '/') cursor.at += 1;
  for (;;) {
    const character = peek(cursor);
    const from = cursor.at;
    if (character === undefined || character === '%') break;
    if (character === ';') {
      comments.push({ from, to: text.length });
      break;
    }
    if (character === '(') {
      cursor.at = text.indexOf(')', from) + 1;
      if (cursor.at === 0) throw new Error('an unclosed comment');
      comments.push({ from, to: cursor.at });
      continue;
    }
    words.push({ letter: character.toUpperCase(), from, to: takeWord(cursor) });
  }
  return { words, comments };
}

function takeWord(cursor: Cursor): number {
  const letter = cursor.text[cursor.at]!.toUpperCase();
  if (letter === 'O') {
    if (!readFlowWord(cursor).ok) throw new Error('no O word');
  } else if (letter === '#') {
    if (!readParameter(cursor).ok || peek(cursor) !== '=') throw new Error('no setting');
    cursor.at += 1;
    if (!readValue(cursor, '=').ok) throw new Error('a setting without a value');
  } else {
    cursor.at += 1;
    if (!readValue(cursor, letter).ok) throw new Error(`${letter} without a value`);
  }
  // Blanks behind a number were looked through for more digits.
  let end = cursor.at;
  while (/\s/.test(cursor.text[end - 1]!)) end -= 1;
  return end;
}
