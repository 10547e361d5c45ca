/** Rewrites a traced program line by line, so that what it commands lands where it was meant to. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  type ArcShape,
  type Place as Coordinates,
  type LocatedText,
  type LocatedWord,
  locateWords,
  MOTION_G,
  type Motion,
  type ProgramTrace,
  type TracedLine,
} from '../program/index.js';
import type { LandingMap, Point } from './landing-map.js';
import type { Refusal } from './refuse-unsafe.js';
import { isSpaced, rewriteText, writeLength, writeNumber } from './rewrite-text.js';
import {
  commandsFor,
  fitArc,
  joinStraight,
  type Place,
  sampleArc,
  sampleLine,
} from './split-path.js';

export interface RewriteRequest {
  readonly text: string;
  readonly trace: ProgramTrace;
  readonly datum: Coordinates;
  /** The program's zero in the grid's coordinates, mm. */
  readonly zeroMm: Point;
  readonly map: LandingMap;
  readonly toleranceMm: number;
}

/** One end of a written move, in the grid's coordinates, mm. */
export interface WrittenEnd {
  readonly command: Point;
  /** Where it is meant to land; undefined within a move. */
  readonly meant: Point | undefined;
}

export interface RewriteCounts {
  /** Lines of the original whose moves were changed. */
  changed: number;
  /** Moves that became several. */
  split: number;
  arcsKept: number;
  arcsToChords: number;
}

export interface Rewritten {
  /** Without a header. */
  readonly text: string;
  readonly ends: readonly WrittenEnd[];
  readonly counts: Readonly<RewriteCounts>;
  readonly refusals: readonly Refusal[];
  /** Largest distance of a command from where it is meant to land, mm. */
  readonly largestChangeMm: number;
}

/** Digits behind the point: 0.001 mm, 0.0001 in. */
const DIGITS = { mm: 3, inch: 4 } as const;
/** Centres and heights get one more: controllers compare the radii at both ends of an arc. */
const FINER = 1;

/** Names of places: what they round would shift everything behind, and add up. */
const NAME_DIGITS = 6;

const STOPS = [0, 1, 2, 30, 60];
const CENTRES = 'IJKR';

export function rewriteProgram(request: RewriteRequest): Rewritten {
  const rewriter = new Rewriter(request);
  const text = request.trace.hasFlow
    ? writeOut(request, rewriter)
    : writeInPlace(request, rewriter);
  const { ends, counts, refusals, largestChangeMm } = rewriter;
  return { text, ends, counts, refusals, largestChangeMm };
}

/** Texts of lines and their ends, by turns. */
function takeApart(text: string): { lines: string[]; lineEnds: string[] } {
  const parts = text.split(/(\r\n|\n|\r)/);
  return {
    lines: parts.filter((_, k) => k % 2 === 0),
    lineEnds: [...parts.filter((_, k) => k % 2 === 1), ''],
  };
}

/** Each line in its place, those that are not carried out as they are. */
function writeInPlace({ text, trace }: RewriteRequest, rewriter: Rewriter): string {
  const { lines, lineEnds } = takeApart(text);
  const usual = lineEnds[0] === '' ? '\n' : lineEnds[0]!;
  const pieces = lines.map((line) => [line]);
  for (const traced of trace.lines) {
    pieces[traced.index] = rewriter.rewrite(traced, lines[traced.index]!);
  }
  return pieces.map((piece, k) => piece.join(lineEnds[k] || usual) + lineEnds[k]).join('');
}

/** The lines as they are carried out, loops and subprograms written out, expressions as numbers. */
function writeOut({ text, trace }: RewriteRequest, rewriter: Rewriter): string {
  const { lines, lineEnds } = takeApart(text);
  const usual = lineEnds[0] === '' ? '\n' : lineEnds[0]!;
  const out: string[] = [];
  const seen = new Set<number>();
  let before = -1;
  for (const traced of trace.lines) {
    const { index } = traced;
    const between = lines.slice(before + 1, index);
    if (index > before && between.every((line) => line.trim() === '')) out.push(...between);
    const plain = writePlain(traced, lines[index]!, seen.has(index));
    if (plain !== undefined) out.push(...rewriter.rewrite(traced, plain));
    seen.add(index);
    before = index;
  }
  // A file that opens with % closes with it.
  if (out.filter(isPercent).length === 1 && lines.filter(isPercent).length > 1) out.push('%');
  return `${out.join(usual)}${usual}`;
}

function isPercent(line: string): boolean {
  return line.trim() === '%';
}

/** A line without flow, settings and expressions; undefined where nothing is left of it. */
function writePlain(
  { scanned, block }: TracedLine,
  text: string,
  isRepeated: boolean,
): string | undefined {
  const located = locateWords(text);
  const computed = new Set(scanned.computed.map(({ column }) => column - 1));
  const replaced = new Map<LocatedWord, string>();
  const isCall = block.m.has(98) || block.m.has(99);
  const callColumn = (block.m.get(98) ?? block.m.get(99) ?? 0) - 1;
  for (const word of located.words) {
    const { letter, from } = word;
    if (letter === '#') replaced.set(word, '');
    else if (letter === 'O') {
      // The number of the program itself stays.
      if (scanned.flow?.keyword !== 'label' || isRepeated) replaced.set(word, '');
    } else if (isCall && (from === callColumn || letter === 'P' || letter === 'L')) {
      replaced.set(word, '');
    } else if (letter === 'N' && isRepeated) replaced.set(word, '');
    else if (computed.has(from)) replaced.set(word, `${letter}${valueAt(block, letter, from)}`);
  }
  if (replaced.size === 0) return text;
  const plain = rewriteText(text, located, { replaced, added: [] });
  return plain === '' ? undefined : plain;
}

function valueAt({ g, m, values }: TracedLine['block'], letter: string, from: number): string {
  const codes = letter === 'G' ? g : letter === 'M' ? m : undefined;
  if (codes === undefined) return writeNumber(values.get(letter)!);
  const [code] = [...codes].find(([, column]) => column === from + 1)!;
  return writeNumber(letter === 'G' ? code / 10 : code);
}

type Pair = [number | undefined, number | undefined];

/** What the machine is told so far, beside what the program meant. */
class Rewriter {
  readonly ends: WrittenEnd[] = [];
  readonly refusals: Refusal[] = [];
  readonly counts: RewriteCounts = { changed: 0, split: 0, arcsKept: 0, arcsToChords: 0 };
  largestChangeMm = 0;
  readonly #request: RewriteRequest;
  /** Where the commands stand, in the coordinates of the anchors, mm. */
  #command: Pair = [undefined, undefined];
  /** The same as the program meant it. */
  #meant: Pair = [undefined, undefined];
  #anchors: readonly number[] = [];
  /** Motion code in force in what was written. */
  #code: number | undefined;

  constructor(request: RewriteRequest) {
    this.#request = request;
  }

  /** @param text of the line, without its end. @returns the lines that stand for it. */
  rewrite(traced: TracedLine, text: string): string[] {
    const { block, motions } = traced;
    const [first] = motions;
    const namesXY = block.values.has('X') || block.values.has('Y');
    const isPath = first !== undefined && first.kind !== 'other';
    let lines = [text];
    if (isPath && (namesXY || first.kind === 'arc')) {
      const line = new Line(traced, text);
      if (first.kind === 'cycle') lines = this.#drill(line, motions);
      else if (first.kind === 'arc') lines = this.#followArc(line, first);
      else lines = this.#followLine(line, first);
      if (lines.length > 1) this.counts.split += 1;
      if (lines.length > 1 || lines[0] !== text) this.counts.changed += 1;
    } else {
      if (namesXY && renames(traced)) lines = [this.#rename(new Line(traced, text))];
      else if (motions.length > 0) lines = [this.#withCode(new Line(traced, text))];
      this.#settle(traced);
      this.#noteCode(traced);
    }
    this.#anchors = traced.anchors;
    this.#meant = [traced.position[0], traced.position[1]];
    return lines;
  }

  /** The position after a line that is no move in X and Y: where it was, or called anew, or lost. */
  #settle({ position, anchors }: TracedLine): void {
    for (const axis of [0, 1] as const) {
      const isSame = position[axis] === this.#meant[axis] && anchors[axis] === this.#anchors[axis];
      if (!isSame) this.#command[axis] = position[axis];
    }
  }

  #noteCode({ block, motionCode }: TracedLine): void {
    for (const code of block.g.keys()) if (MOTION_G.has(code)) this.#code = motionCode;
  }

  /** A line that moves by a code from before, where another one was written since. */
  #withCode(line: Line): string {
    const code = this.#missingCode(line.traced);
    return code === undefined ? line.text : line.write(new Map(), [code]);
  }

  #missingCode({ block, motionCode }: TracedLine): string | undefined {
    // The way to the reference takes the axis words for itself.
    if (block.g.has(280) || block.g.has(300)) return undefined;
    const hasOwn = [...block.g.keys()].some((code) => MOTION_G.has(code));
    if (hasOwn || motionCode === this.#code || motionCode === undefined) return undefined;
    return `G${writeNumber(motionCode / 10)}`;
  }

  /**
   * G92 and G10 L20 give the place where the machine stands a name. It stands beside where it was meant
   * to: its name changes by as much, so that all coordinates behind stay as they were.
   */
  #rename(line: Line): string {
    const { traced } = line;
    const replaced = new Map<LocatedWord, string>();
    for (const axis of [0, 1] as const) {
      const word = line.word(axis);
      const [command, meant] = [this.#command[axis], this.#meant[axis]];
      const isKnown =
        command !== undefined && meant !== undefined && traced.position[axis] === meant;
      if (word === undefined || !isKnown || traced.anchors[axis] !== this.#anchors[axis]) continue;
      const change = (command - meant) / line.unit;
      if (Math.abs(change) < 10 ** -NAME_DIGITS) continue;
      replaced.set(word, `${'XY'[axis]}${writeLength(line.value(axis)! + change, NAME_DIGITS)}`);
    }
    return replaced.size === 0 ? line.text : line.write(replaced, []);
  }

  #followLine(line: Line, { kind, from, to }: Motion): string[] {
    const meant = this.#gridPlace(to);
    const end = this.#commandFor(meant);
    const isKnown = from[0] !== undefined && from[1] !== undefined && this.#isPlaced();
    let ends = [end];
    if (kind === 'feed' && isKnown) {
      const start = this.#gridPlace(from);
      const samples = commandsFor(sampleLine(start, meant, this.#request.map), this.#request.map);
      const path = [this.#hereAt(start[2]), ...samples];
      ends = joinStraight(path, this.#request.toleranceMm).map((k) => path[k]!);
    }
    if (ends.length > 1 && line.namesZ && from[2] === undefined) return this.#refuseUnknownZ(line);
    const code = this.#missingCode(line.traced);
    this.#noteCode(line.traced);
    if (code !== undefined) this.#code = line.traced.motionCode;
    return this.#writePieces(
      line,
      ends,
      meant,
      from[2],
      new Map(),
      code === undefined ? [] : [code],
    );
  }

  #followArc(line: Line, motion: Motion): string[] {
    const { from, to } = motion;
    const shape = this.#gridShape(motion.shape as ArcShape);
    const { map, toleranceMm } = this.#request;
    const [start, meant] = [this.#gridPlace(from), this.#gridPlace(to)];
    const places = sampleArc(start, meant, shape, toleranceMm);
    const path = [this.#hereAt(start[2]), ...commandsFor(places, map)];
    const kept =
      shape.axes[0] === 0 && shape.axes[1] === 1
        ? this.#keepArc(line, path, shape, meant)
        : this.#keepUnchanged(line, path, meant);
    if (kept !== undefined) {
      this.counts.arcsKept += 1;
      return kept;
    }
    if (line.namesZ && from[2] === undefined) return this.#refuseUnknownZ(line);
    this.counts.arcsToChords += 1;
    const ends = joinStraight(path, toleranceMm).map((k) => path[k]!);
    const replaced = new Map<LocatedWord, string>();
    const own = line.motionWord();
    for (const word of line.located.words) {
      if (CENTRES.includes(word.letter) || line.isTurns(word)) replaced.set(word, '');
    }
    if (own !== undefined) replaced.set(own, 'G1');
    this.#code = 10;
    return this.#writePieces(line, ends, meant, from[2], replaced, own === undefined ? ['G1'] : []);
  }

  /** As an arc, where an arc does: the words of its ends and its centre change. */
  #keepArc(
    line: Line,
    path: readonly Place[],
    shape: ArcShape,
    meant: Place,
  ): string[] | undefined {
    const { map, toleranceMm } = this.#request;
    const { traced } = line;
    const settled = this.#settleEnd(line, path.at(-1)!);
    const end: Place = [...settled.command, path.at(-1)![2]];
    const whole = [...path.slice(0, -1), end];
    const centre = map.commandFor([shape.centreMm[0], shape.centreMm[1]]);
    const isClosed = isWholeTurns(shape.sweepRad);
    const fitted = fitArc(whole, centre, shape.sweepRad, isClosed, toleranceMm);
    if (fitted === undefined) return undefined;
    const [here] = path;
    const frame = traced.frames;
    const words = ([0, 1] as const).map((axis) => {
      const local = fitted.centre[axis] - this.#shift(axis) - frame[axis].offsetMm;
      const away = fitted.centre[axis] - here![axis];
      return (traced.areCentresAbsolute ? local : away) / line.unit;
    });
    const replaced = new Map(settled.replaced);
    const added = [...settled.added];
    const radiusMm = Math.hypot(here![0] - fitted.centre[0], here![1] - fitted.centre[1]);
    const isSame = settled.isOriginal && this.#isCentreSame(line, words, radiusMm);
    if (!isSame) {
      const radius = line.find('R');
      const texts = words.map((word, axis) => {
        return `${'IJ'[axis]}${writeLength(word, line.digits + FINER)}`;
      });
      // A radius gives way to a centre: near a half turn its last digit would move the centre far.
      if (radius !== undefined) replaced.set(radius, texts.join(line.gap));
      for (const axis of radius === undefined ? ([0, 1] as const) : []) {
        const word = line.find('IJ'[axis]);
        if (word !== undefined) replaced.set(word, texts[axis]!);
        else if (Math.abs(words[axis]!) > line.half / 10) added.push(texts[axis]!);
      }
    }
    const code = this.#missingCode(traced);
    this.#noteCode(traced);
    if (code !== undefined) {
      added.unshift(code);
      this.#code = traced.motionCode;
    }
    this.#reach(settled.command, meant);
    return [replaced.size + added.length === 0 ? line.text : line.write(replaced, added)];
  }

  /** Whether the centre's own words do: R, or I and J that would hardly change. */
  #isCentreSame(line: Line, words: readonly number[], radiusMm: number): boolean {
    const radius = line.find('R') && line.traced.block.values.get('R');
    if (radius !== undefined) {
      const isSame = Math.abs(Math.abs(radius) * line.unit - radiusMm) <= line.half * line.unit;
      return isSame && this.#isUnbent(line);
    }
    return words.every((word, axis) => {
      const own = line.traced.block.values.get('IJ'[axis]!);
      return Math.abs(word - (own ?? (line.traced.areCentresAbsolute ? word : 0))) <= line.half;
    });
  }

  /** Start and end are where the program had them. */
  #isUnbent({ half, unit }: Line): boolean {
    return ([0, 1] as const).every(
      (axis) => Math.abs((this.#command[axis] ?? 0) - (this.#meant[axis] ?? 0)) <= half * unit,
    );
  }

  /** An arc outside the XY plane stays as it is where nothing of it changes by a digit. */
  #keepUnchanged(line: Line, path: readonly Place[], meant: Place): string[] | undefined {
    const { motions } = line.traced;
    const shape = this.#gridShape(motions[0]!.shape as ArcShape);
    const from = this.#gridPlace(motions[0]!.from);
    const places = [from, ...sampleArc(from, meant, shape, this.#request.toleranceMm)];
    const isSame = path.every((place, k) =>
      [0, 1].every((axis) => Math.abs(place[axis]! - places[k]![axis]!) <= line.half * line.unit),
    );
    if (!isSame) return undefined;
    const settled = this.#settleEnd(line, path.at(-1)!);
    if (!settled.isOriginal) return undefined;
    const code = this.#missingCode(line.traced);
    this.#noteCode(line.traced);
    if (code !== undefined) this.#code = line.traced.motionCode;
    this.#reach(settled.command, meant);
    return [code === undefined ? line.text : line.write(new Map(), [code])];
  }

  /** Holes: one line each. Repeats in a row become lines of their own, for their distances vary. */
  #drill(line: Line, motions: readonly Motion[]): string[] {
    const code = this.#missingCode(line.traced);
    this.#noteCode(line.traced);
    if (code !== undefined) this.#code = line.traced.motionCode;
    return motions.map(({ to }, k) => {
      const meant = this.#gridPlace(to);
      const { replaced, added, command } = this.#settleEnd(line, this.#commandFor(meant));
      this.#reach(command, meant);
      const words = new Map(replaced);
      const count = line.find('L');
      if (motions.length > 1 && count !== undefined) words.set(count, '');
      if (k === 0) {
        const all = code === undefined ? added : [code, ...added];
        return words.size + all.length === 0 ? line.text : line.write(words, all);
      }
      const own = line.located.words.filter(({ letter }) => 'XYZRPQFIJK'.includes(letter));
      const texts = own.map((word) => words.get(word) ?? line.text.slice(word.from, word.to));
      return [...added, ...texts].filter((text) => text !== '').join(' ');
    });
  }

  /** The ends of a move as words: in the original line the first, then lines of their own. */
  #writePieces(
    line: Line,
    ends: readonly Place[],
    meant: Place,
    fromZ: number | undefined,
    changes: ReadonlyMap<LocatedWord, string>,
    codes: readonly string[],
  ): string[] {
    const heights = line.heights(ends, fromZ);
    const out: string[] = [];
    const stop = ends.length > 1 ? line.stopWord() : undefined;
    for (const [k, end] of ends.entries()) {
      const isLast = k === ends.length - 1;
      const settled = this.#settleEnd(line, end, isLast && ends.length === 1);
      const { command } = settled;
      const height = heights[k];
      if (k === 0) {
        const replaced = new Map([...changes, ...settled.replaced]);
        const zWord = line.find('Z');
        if (zWord !== undefined && height !== undefined) replaced.set(zWord, height);
        if (stop !== undefined) replaced.set(stop, '');
        const added = [...codes, ...settled.added];
        out.push(replaced.size + added.length === 0 ? line.text : line.write(replaced, added));
      } else {
        const words = [...settled.texts, ...(height === undefined ? [] : [height])];
        if (words.length === 0) continue;
        out.push(['G1', ...words].join(line.gap));
      }
      this.#reach(command, isLast ? meant : undefined);
    }
    if (stop !== undefined) out.push(line.text.slice(stop.from, stop.to));
    return out;
  }

  /**
   * Words for the end of a move, rounded; those of the original stay where they say the same.
   *
   * @param mayStay only words of the line's own end may.
   */
  #settleEnd(line: Line, end: Place, mayStay = true) {
    const replaced = new Map<LocatedWord, string>();
    const added: string[] = [];
    const texts: string[] = [];
    const command: [number, number] = [0, 0];
    let isOriginal = true;
    for (const axis of [0, 1] as const) {
      const { traced } = line;
      const target = end[axis] - this.#shift(axis);
      const here = this.#command[axis];
      const offset = traced.frames[axis].offsetMm;
      const base = traced.isIncremental ? (here ?? this.#meant[axis] ?? 0) : offset;
      const wanted = (target - base) / line.unit;
      const word = line.word(axis);
      const rounded = mayStay
        ? line.round(axis, wanted)
        : { value: line.cut(wanted), isOriginal: false };
      const stays = here !== undefined && Math.abs(target - here) <= line.half * line.unit * STAY;
      if (word === undefined && stays) {
        command[axis] = here + this.#shift(axis);
        continue;
      }
      const reached = base + rounded.value * line.unit;
      command[axis] = reached + this.#shift(axis);
      if (rounded.isOriginal) continue;
      isOriginal = false;
      const text = `${'XY'[axis]}${line.spell(rounded.value)}`;
      texts.push(text);
      if (word === undefined) added.push(text);
      // A small letter stays one.
      else replaced.set(word, `${line.text[word.from]}${text.slice(1)}`);
    }
    const [xWord, yWord] = [line.word(0), line.word(1)];
    if (xWord !== undefined && yWord === undefined && added.length > 0) {
      // Y stands behind X, as people read it.
      const own = replaced.get(xWord) ?? line.text.slice(xWord.from, xWord.to);
      replaced.set(xWord, [own, ...added.splice(0)].join(line.gap));
    }
    return { replaced, added, texts, command: command as Point, isOriginal };
  }

  #reach(command: Point, meant: Place | undefined): void {
    for (const axis of [0, 1] as const) this.#command[axis] = command[axis] - this.#shift(axis);
    this.ends.push({ command, meant: meant && [meant[0], meant[1]] });
    if (meant === undefined) return;
    const change = Math.hypot(command[0] - meant[0], command[1] - meant[1]);
    this.largestChangeMm = Math.max(this.largestChangeMm, change);
  }

  #refuseUnknownZ({ text, traced }: Line): string[] {
    this.refusals.push({
      line: traced.index + 1,
      what: 'a move in X, Y and Z that has to be split, from an unknown Z',
      hint: 'name Z in an earlier move',
    });
    return [text];
  }

  /** Grid coordinates less those of the anchors. */
  #shift(axis: 0 | 1): number {
    const { datum, zeroMm } = this.#request;
    return zeroMm[axis] - (axis === 0 ? datum.offsetX : datum.offsetY);
  }

  #gridPlace([x, y, z]: Motion['to']): Place {
    return [x! + this.#shift(0), y! + this.#shift(1), z ?? 0];
  }

  #gridShape(shape: ArcShape): ArcShape {
    const shift = (k: 0 | 1) =>
      shape.centreMm[k] + (shape.axes[k] === 2 ? 0 : this.#shift(shape.axes[k] as 0 | 1));
    return { ...shape, centreMm: [shift(0), shift(1)] };
  }

  #commandFor([x, y, z]: Place): Place {
    return [...this.#request.map.commandFor([x, y]), z] as const;
  }

  #isPlaced(): boolean {
    return this.#command[0] !== undefined && this.#command[1] !== undefined;
  }

  #hereAt(z: number): Place {
    const [x, y] = this.#command;
    return [x! + this.#shift(0), y! + this.#shift(1), z];
  }
}

/** A word that is not there is written from half a last digit on. */
const STAY = 1 + 1e-6;

/** Codes whose X and Y are names of the present position. */
function renames({ block }: TracedLine): boolean {
  return block.g.has(920) || (block.g.has(100) && block.values.get('L') === 20);
}

function isWholeTurns(sweepRad: number): boolean {
  const turns = sweepRad / (2 * Math.PI);
  return Math.abs(turns - Math.round(turns)) < 1e-9 && Math.round(turns) !== 0;
}

/** A line that is being rewritten. */
class Line {
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
