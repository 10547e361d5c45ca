/** The text of an O word: which label, which keyword, which expressions behind it. */

import { type Outcome, success } from '../quantity/index.js';
import { type Cursor, fault, peek, readName, readNumber, takeOneOf } from './cursor.js';
import { LOCAL_COUNT } from './parameters.js';
import { type Expression, readBracket, readValue } from './read-expression.js';

/** A keyword that begins with another one stands before it. */
const KEYWORDS = [
  'sub',
  'endsub',
  'return',
  'call',
  'while',
  'endwhile',
  'do',
  'repeat',
  'endrepeat',
  'if',
  'elseif',
  'else',
  'endif',
  'break',
  'continue',
] as const;

/** label: an O number without a keyword, such as the number of a program. */
export type FlowKeyword = (typeof KEYWORDS)[number] | 'label';

export interface FlowWord {
  readonly keyword: FlowKeyword;
  /** `100` or `<name>`; of a call also an expression that gives the number. */
  readonly label: string | Expression;
  /** Column of the O, from 1. */
  readonly column: number;
  /** Arguments of call, condition of while, if and elseif, count of repeat, value of return and endsub. */
  readonly values: readonly Expression[];
}

/** How many expressions stand behind a keyword: least, most. */
const VALUE_COUNTS: Partial<Record<FlowKeyword, readonly [number, number]>> = {
  call: [0, LOCAL_COUNT],
  return: [0, 1],
  endsub: [0, 1],
  while: [1, 1],
  repeat: [1, 1],
  if: [1, 1],
  elseif: [1, 1],
};

/**
 * Reads an O word and what belongs to it (common practice: NISTIR 6556 has no O words). The cursor
 * stands on the O.
 *
 * Fails: PROGRAM_INVALID, with line and column.
 */
export function readFlowWord(cursor: Cursor): Outcome<FlowWord> {
  const column = cursor.at + 1;
  cursor.at += 1;
  const label = readLabel(cursor);
  if (!label.ok) return label;
  const keyword = takeOneOf(cursor, KEYWORDS) ?? 'label';
  if (typeof label.value !== 'string' && keyword !== 'call') {
    cursor.at = column - 1;
    return fault(cursor, 'only CALL may compute its number', 'write the number itself');
  }
  const [least, most] = VALUE_COUNTS[keyword] ?? [0, 0];
  const values: Expression[] = [];
  while (most > 0 && peek(cursor) === '[') {
    if (values.length === most) {
      return fault(
        cursor,
        `more than ${most} values behind ${keyword.toUpperCase()}`,
        'take it out',
      );
    }
    const value = readBracket(cursor);
    if (!value.ok) return value;
    values.push(value.value);
  }
  if (values.length < least) {
    const shown = keyword.toUpperCase();
    return fault(cursor, `${shown} has no value in brackets`, `write ${shown} [#1 LT 5]`);
  }
  return success({ keyword, label: label.value, column, values });
}

function readLabel(cursor: Cursor): Outcome<string | Expression> {
  const first = peek(cursor);
  if (first === '<') {
    const name = readName(cursor);
    return name.ok ? success(`<${name.value}>`) : name;
  }
  if (first === '[' || first === '#') return readValue(cursor, 'O');
  const start = cursor.at;
  const number = readNumber(cursor, 'O');
  if (!number.ok || isLabelNumber(number.value)) {
    return number.ok ? success(String(number.value)) : number;
  }
  cursor.at = start;
  return fault(cursor, 'the number of an O word is not whole', 'write a whole number above 0');
}

export function isLabelNumber(value: number): boolean {
  return Number.isSafeInteger(value) && value >= 0;
}
