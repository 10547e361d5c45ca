/** Sorts the words of a line by what they are, and refuses lines that contradict themselves. */

import { type Outcome, success } from '../quantity/index.js';
import { invalidAt } from './cursor.js';
import type { Word } from './scan-line.js';

/** The words of one line, sorted. */
export interface Block {
  readonly name: string;
  readonly line: number;
  /** Columns of the G codes, from 1; codes times ten: G1 is 10, G59.1 is 591. */
  readonly g: ReadonlyMap<number, number>;
  /** Columns of the M codes. */
  readonly m: ReadonlyMap<number, number>;
  /** All other words by letter. */
  readonly values: ReadonlyMap<string, number>;
  /** Column of the first word of each letter, from 1. */
  readonly columns: ReadonlyMap<string, number>;
}

/** How far a code may lie from the whole number it means (NISTIR 6556, section 3.3.2.1). */
const NEAR_INTEGER = 1e-4;

/** NISTIR 6556, section 3.3.1. */
const MOST_M_WORDS = 4;

/**
 * Modal groups of G codes, times ten (NISTIR 6556, table 4). Two of one group on a line are a
 * contradiction. The last group is no modal one: its members compete for the axis words.
 * G33, G38.3 to G38.5, G43.1, G52, G54.1, G68, G69, G73, G76, G90.1, G91.1 and G95 are not in
 * NISTIR 6556 (common practice).
 */
const G_GROUPS: readonly (readonly number[])[] = [
  [
    0, 10, 20, 30, 330, 382, 383, 384, 385, 730, 760, 800, 810, 820, 830, 840, 850, 860, 870, 880,
    890,
  ],
  [170, 180, 190],
  [900, 910],
  [901, 911],
  [930, 940, 950],
  [200, 210],
  [400, 410, 420],
  [430, 431, 490],
  [980, 990],
  [540, 541, 550, 560, 570, 580, 590, 591, 592, 593],
  [610, 611, 640],
  [680, 690],
  [100, 280, 300, 520, 680, 920, 921, 922, 923],
];

/**
 * Modal groups of M codes (NISTIR 6556, table 5); M7 and M8 may stand together. M97 to M99 are not
 * in NISTIR 6556 (common practice).
 */
const M_GROUPS: readonly (readonly number[])[] = [
  [0, 1, 2, 30, 60, 97, 98, 99],
  [3, 4, 5],
  [7, 9],
  [8, 9],
  [48, 49],
];

/**
 * Arranges the words of a line. N is checked and dropped: unlike the standard any number of digits
 * is accepted, since long programs number past 99999 and the number has no effect.
 *
 * Fails: PROGRAM_INVALID (a letter twice, two codes of one modal group, a code that is no code).
 */
export function arrangeWords(name: string, line: number, words: readonly Word[]): Outcome<Block> {
  const g = new Map<number, number>();
  const m = new Map<number, number>();
  const values = new Map<string, number>();
  const columns = new Map<string, number>();

  for (const [index, word] of words.entries()) {
    const place = { name, line, column: word.column };
    if (!columns.has(word.letter)) columns.set(word.letter, word.column);
    if (word.letter === 'G' || word.letter === 'M') {
      const code = readCode(word);
      if (code === undefined) {
        return invalidAt(place, `${word.letter}${word.value} is no code`, 'correct the number');
      }
      (word.letter === 'G' ? g : m).set(code, word.column);
    } else if (word.letter === 'N') {
      if (index > 0 || !Number.isInteger(word.value) || word.value < 0) {
        return invalidAt(
          place,
          'a line number must be whole and stand first in its line',
          'take the N word out: it has no effect',
        );
      }
    } else if (values.has(word.letter)) {
      return invalidAt(
        place,
        `${word.letter} stands twice in one line`,
        'put the second move on a line of its own',
      );
    } else {
      values.set(word.letter, word.value);
    }
  }

  const place = { name, line };
  if (m.size > MOST_M_WORDS) {
    return invalidAt(place, 'more than four M words', 'put them on lines of their own');
  }
  const clash =
    findClash(g, G_GROUPS, (code) => `G${code / 10}`) ?? findClash(m, M_GROUPS, (c) => `M${c}`);
  if (clash !== undefined) {
    return invalidAt(place, `${clash} contradict each other in one line`, 'keep one of them');
  }
  return success({ name, line, g, m, values, columns });
}

/** G codes in tenths, M codes whole; undefined where the number is neither. */
function readCode(word: Word): number | undefined {
  const scale = word.letter === 'G' ? 10 : 1;
  const code = Math.round(word.value * scale);
  const isNear = Math.abs(word.value * scale - code) <= NEAR_INTEGER * scale;
  return isNear && code >= 0 ? code : undefined;
}

function findClash(
  codes: ReadonlyMap<number, number>,
  groups: readonly (readonly number[])[],
  spell: (code: number) => string,
): string | undefined {
  if (codes.size < 2) return undefined;
  for (const group of groups) {
    const present = group.filter((code) => codes.has(code));
    if (present.length > 1) return present.map(spell).join(' and ');
  }
  return undefined;
}
