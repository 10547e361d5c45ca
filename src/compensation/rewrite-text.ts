/** Changes words of a line and leaves everything else as it stands. */

import type { LocatedText, LocatedWord } from '../program/index.js';

export interface LineChanges {
  /** New text of a word; an empty one takes it out. */
  readonly replaced: ReadonlyMap<LocatedWord, string>;
  /** Words that the line lacks, in order. */
  readonly added: readonly string[];
}

const AXIS_LETTERS = 'XYZIJKR';

/** Added words stand before the first axis word of the line, else behind all others. */
export function rewriteText(
  text: string,
  located: LocatedText,
  { replaced, added }: LineChanges,
): string {
  const { words } = located;
  const gap = isSpaced(located) ? ' ' : '';
  const place = words.find(({ letter }) => AXIS_LETTERS.includes(letter)) ?? words.at(-1);
  let out = '';
  let at = 0;
  for (const word of words) {
    const own = replaced.get(word) ?? text.slice(word.from, word.to);
    const isBehind = !AXIS_LETTERS.includes(word.letter);
    const all = word !== place ? [own] : isBehind ? [own, ...added] : [...added, own];
    const now = all.filter((one) => one !== '').join(gap);
    const before = text.slice(at, word.from);
    // A word that is taken out takes the blanks before it along.
    out += now === '' && out !== '' ? before.replace(/\s+$/, '') : before;
    out += now;
    at = word.to;
  }
  out += text.slice(at);
  // Where the first word went, the line still begins where it did.
  return out.trim() === '' ? '' : out.replace(/^\s*/, /^\s*/.exec(text)![0]);
}

/** Whether words are set apart by blanks. */
export function isSpaced({ words }: LocatedText): boolean {
  return words.length < 2 || words.some(({ from }, k) => k > 0 && from > words[k - 1]!.to);
}

/** A length with so many digits behind the point, never minus zero. */
export function writeLength(value: number, digits: number): string {
  const text = value.toFixed(digits);
  return /^-0\.?0*$/.test(text) ? text.slice(1) : text;
}

/** A number as short as it may be written, without an exponent. */
export function writeNumber(value: number): string {
  const text = value.toFixed(6).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
}
