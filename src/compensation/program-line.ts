/** One line of a program while its words are rewritten: what it holds, to which digit it is written. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  type LocatedText,
  type LocatedWord,
  locateWords,
  MOTION_G,
  type TracedLine,
} from '../program/index.js';
import { isSpaced, rewriteText, writeLength, writeNumber } from './rewrite-text.js';
import type { Place } from './split-path.js';

/** Digits behind the point: 0.001 mm, 0.0001 in. */
const DIGITS = { mm: 3, inch: 4 } as const;
/** Centres and heights get one more: controllers compare the radii at both ends of an arc. */
export const FINER = 1;

/** A word that is not there is written from half a last digit on. */
export const STAY = 1 + 1e-6;

const STOPS = [0, 1, 2, 30, 60];
export class ProgramLine {
  readonly located: LocatedText;
  readonly gap: string;
  readonly unit: number;
  readonly digits: number;
  /** Half of the last digit, in units of the line. */
  readonly half: number;

  constructor(
    readonly traced: TracedLine,
    readonly text: string,
  ) {
    this.located = locateWords(text);
    this.gap = isSpaced(this.located) ? ' ' : '';
    this.unit = traced.mmPerUnit;
    this.digits = this.unit === MM_PER_INCH ? DIGITS.inch : DIGITS.mm;
    this.half = 0.5 * 10 ** -this.digits;
  }

  get namesZ(): boolean {
    return this.find('Z') !== undefined;
  }

  find(letter: string): LocatedWord | undefined {
    return this.located.words.find((word) => word.letter === letter);
  }

  word(axis: 0 | 1): LocatedWord | undefined {
    return this.find('XY'[axis]!);
  }

  value(axis: 0 | 1): number | undefined {
    return this.traced.block.values.get('XY'[axis]!);
  }

  /** To the last digit that is written; the original's own value where that is as good. */
  round(axis: 0 | 1, value: number): { readonly value: number; readonly isOriginal: boolean } {
    const own = this.value(axis);
    if (own !== undefined && Math.abs(value - own) <= this.half * STAY) {
      return { value: own, isOriginal: true };
    }
    return { value: this.cut(value), isOriginal: false };
  }

  cut(value: number): number {
    return Number(value.toFixed(this.digits));
  }

  spell(value: number): string {
    return writeLength(value, this.digits);
  }

  /** The G word of the motion, where the line has one. */
  motionWord(): LocatedWord | undefined {
    return this.located.words.find((word) => MOTION_G.has(this.#codeOf(word, 'G', 10)));
  }

  /** The M word that stops, behind the motion of the line. */
  stopWord(): LocatedWord | undefined {
    return this.located.words.find((word) => STOPS.includes(this.#codeOf(word, 'M', 1)));
  }

  /** -1 where the word is none; a number in the text, or one that was computed. */
  #codeOf({ letter, from, to }: LocatedWord, wanted: 'G' | 'M', scale: number): number {
    if (letter !== wanted) return -1;
    const written = Number(this.text.slice(from + 1, to).replace(/\s/g, ''));
    if (!Number.isNaN(written)) return Math.round(written * scale);
    const codes = wanted === 'G' ? this.traced.block.g : this.traced.block.m;
    return [...codes].find(([, column]) => column === from + 1)?.[0] ?? -1;
  }

  /** P of an arc counts its turns, unless another code of the line takes it. */
  isTurns({ letter }: LocatedWord): boolean {
    const { g } = this.traced.block;
    return letter === 'P' && !g.has(40) && !g.has(541);
  }

  /** Z words of the pieces; none where the line has none, and the original's own where there is one piece. */
  heights(ends: readonly Place[], from: number | undefined): (string | undefined)[] {
    if (!this.namesZ || ends.length === 1) return ends.map(() => undefined);
    const { isIncremental, block } = this.traced;
    const own = block.values.get('Z')!;
    let before = (from ?? 0) / this.unit;
    const target = isIncremental ? before + own : own;
    return ends.map(([, , z], k) => {
      const isLast = k === ends.length - 1;
      const next = isLast ? target : Number((z / this.unit).toFixed(this.digits + FINER));
      const value = isIncremental ? next - before : next;
      before = next;
      return `Z${writeNumber(value)}`;
    });
  }

  write(replaced: ReadonlyMap<LocatedWord, string>, added: readonly string[]): string {
    return rewriteText(this.text, this.located, { replaced, added });
  }
}
