/** Text → expression: parameters, functions and brackets of RS-274/NGC, not yet evaluated. */

import { type Outcome, success } from '../quantity/index.js';
import { type Cursor, fault, peek, readName, readNumber, takeOneOf, takeWord } from './cursor.js';

export const FUNCTIONS = [
  'abs',
  'acos',
  'asin',
  'cos',
  'exp',
  'fix',
  'fup',
  'ln',
  'round',
  'sin',
  'sqrt',
  'tan',
] as const;
export type FunctionName = (typeof FUNCTIONS)[number];

/** From the one that binds tightest to the loosest. Longer spellings first. */
const PRECEDENCE = [
  ['**'],
  ['*', '/', 'mod'],
  ['+', '-'],
  ['eq', 'ne', 'gt', 'ge', 'lt', 'le'],
  ['and', 'or', 'xor'],
] as const;
const COMPARING = 3;
const LOGIC = 4;
export type Operator = (typeof PRECEDENCE)[number][number];

/** A column is where the evaluation fails if it does, from 1. */
export type Expression =
  | { readonly kind: 'number'; readonly value: number }
  | { readonly kind: 'parameter'; readonly index: Expression; readonly column: number }
  | { readonly kind: 'named'; readonly name: string; readonly column: number }
  | { readonly kind: 'exists'; readonly name: string }
  | { readonly kind: 'negation'; readonly of: Expression }
  | {
      readonly kind: 'function';
      readonly name: FunctionName;
      readonly argument: Expression;
      readonly column: number;
    }
  | { readonly kind: 'atan'; readonly y: Expression; readonly x: Expression }
  | Chain;

/** Operators of one precedence, left to right: a list, so that a long sum is no deep tree. */
interface Chain {
  readonly kind: 'chain';
  readonly first: Expression;
  readonly rest: readonly Link[];
}

interface Link {
  readonly operator: Operator;
  readonly operand: Expression;
  readonly column: number;
}

/** A parameter that is read or set. */
export type ParameterName = Extract<Expression, { kind: 'parameter' | 'named' }>;

/** Brackets inside brackets and # behind #; far more than a hand writes, far less than the stack. */
const MOST_NESTED = 64;

/** What one bracket shows of itself while it is read. */
interface Bracket {
  readonly depth: number;
  compares: boolean;
  /** Column of a sum that stands bare beside AND, OR or XOR. */
  sumBesideLogic: number | undefined;
}

/**
 * Reads a value: a number, a parameter, a function, or an expression in brackets.
 *
 * AND, OR and XOR bind looser than comparisons, which the standard does not have (common practice,
 * no source). The standard has them in one group with + and -: where the two readings differ, the
 * expression is refused.
 *
 * @param owner what the value belongs to, for failures: `X`.
 * Fails: PROGRAM_INVALID, with line and column.
 * Source: NISTIR 6556, sections 3.3.2.2 to 3.3.2.4.
 */
export function readValue(cursor: Cursor, owner: string, depth = 0): Outcome<Expression> {
  const column = cursor.at + 1;
  const character = peek(cursor);
  if (depth > MOST_NESTED) {
    return fault(cursor, `more than ${MOST_NESTED} brackets inside each other`, 'simplify it');
  }
  if (character === '[') return readBracket(cursor, depth);
  if (character === '#') return readParameter(cursor, depth);
  if (character === '-' || character === '+') {
    const sign = cursor.at;
    cursor.at += 1;
    const next = peek(cursor);
    if (next !== undefined && /[[#a-z]/i.test(next)) {
      const value = readValue(cursor, owner, depth + 1);
      if (!value.ok || character === '+') return value;
      return success({ kind: 'negation', of: value.value });
    }
    cursor.at = sign;
  }
  if (character !== undefined && /[a-z]/i.test(character)) {
    const called = readFunction(cursor, depth);
    if (called !== undefined) return called;
    cursor.at = column - 1;
    peek(cursor);
  }
  const number = readNumber(cursor, owner);
  return number.ok ? success({ kind: 'number', value: number.value }) : number;
}

/** The cursor stands on `#`. */
export function readParameter(cursor: Cursor, depth = 0): Outcome<ParameterName> {
  const column = cursor.at + 1;
  cursor.at += 1;
  if (peek(cursor) === '<') {
    const name = readName(cursor);
    return name.ok ? success({ kind: 'named', name: name.value, column }) : name;
  }
  const index = readValue(cursor, '#', depth + 1);
  return index.ok ? success({ kind: 'parameter', index: index.value, column }) : index;
}

/** The cursor stands on `[`. */
export function readBracket(cursor: Cursor, depth = 0): Outcome<Expression> {
  const opened = cursor.at;
  cursor.at += 1;
  const bracket: Bracket = { depth, compares: false, sumBesideLogic: undefined };
  const inside = readChain(cursor, bracket, LOGIC);
  if (!inside.ok) return inside;
  const end = peek(cursor);
  if (end === ']') {
    cursor.at += 1;
    if (bracket.sumBesideLogic === undefined || bracket.compares) return inside;
    cursor.at = bracket.sumBesideLogic - 1;
    return fault(
      cursor,
      'a sum beside AND, OR or XOR is read in two ways by different controllers',
      'put the sum into brackets of its own',
    );
  }
  if (end === undefined) cursor.at = opened;
  return end === undefined
    ? fault(cursor, 'the bracket opened here is not closed', 'close it with ]')
    : fault(cursor, `expected an operator or ], found ${end}`, 'correct the expression');
}

function readChain(cursor: Cursor, bracket: Bracket, level: number): Outcome<Expression> {
  const operators: readonly Operator[] = PRECEDENCE[level]!;
  const first = readOperand(cursor, bracket, level);
  if (!first.ok) return first;
  const rest: Link[] = [];
  for (;;) {
    const next = peek(cursor);
    const column = cursor.at + 1;
    // `2 ** 3` is no product.
    const isPower = level === 1 && next === '*' && isPowerNext(cursor);
    const operator = isPower ? undefined : takeOneOf(cursor, operators);
    if (operator === undefined) break;
    if (level === COMPARING) bracket.compares = true;
    const operand = readOperand(cursor, bracket, level);
    if (!operand.ok) return operand;
    // To the left of the first AND, both readings take the sum first.
    if (level === LOGIC && isSum(operand.value)) bracket.sumBesideLogic ??= column;
    rest.push({ operator, operand: operand.value, column });
  }
  return success(rest.length === 0 ? first.value : { kind: 'chain', first: first.value, rest });
}

function readOperand(cursor: Cursor, bracket: Bracket, level: number): Outcome<Expression> {
  if (level > 0) return readChain(cursor, bracket, level - 1);
  const value = readValue(cursor, 'the expression', bracket.depth + 1);
  // Marks what came out of brackets, so that a sum in brackets is no bare one.
  return value.ok && value.value.kind === 'chain'
    ? success({ kind: 'chain', first: value.value, rest: [] })
    : value;
}

function isSum(expression: Expression): boolean {
  const operator = expression.kind === 'chain' ? expression.rest[0]?.operator : undefined;
  return operator === '+' || operator === '-';
}

function isPowerNext(cursor: Cursor): boolean {
  const start = cursor.at;
  const isPower = takeWord(cursor, '**');
  cursor.at = start;
  return isPower;
}

/** Undefined where no function stands here. */
function readFunction(cursor: Cursor, depth: number): Outcome<Expression> | undefined {
  peek(cursor);
  const column = cursor.at + 1;
  const name = takeOneOf(cursor, [...FUNCTIONS, 'atan', 'exists'] as const);
  if (name === undefined || peek(cursor) !== '[') return undefined;
  if (name === 'exists') return readExists(cursor);
  const argument = readBracket(cursor, depth + 1);
  if (!argument.ok) return argument;
  if (name !== 'atan') {
    return success({ kind: 'function', name, argument: argument.value, column });
  }
  const hint = 'write ATAN[y]/[x]';
  if (!takeWord(cursor, '/')) return fault(cursor, 'ATAN has no second value', hint);
  if (peek(cursor) !== '[') return fault(cursor, 'ATAN has no second value in brackets', hint);
  const x = readBracket(cursor, depth + 1);
  return x.ok ? success({ kind: 'atan', y: argument.value, x: x.value }) : x;
}

function readExists(cursor: Cursor): Outcome<Expression> {
  const hint = 'write EXISTS[#<name>]';
  cursor.at += 1;
  if (peek(cursor) !== '#') return fault(cursor, 'EXISTS of other than a named parameter', hint);
  const parameter = readParameter(cursor);
  if (!parameter.ok) return parameter;
  if (parameter.value.kind !== 'named' || peek(cursor) !== ']') {
    return fault(cursor, 'EXISTS of other than a named parameter', hint);
  }
  cursor.at += 1;
  return success({ kind: 'exists', name: parameter.value.name });
}
