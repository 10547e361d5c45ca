/**
 * Follows a program line by line: what the machine is told so far beside what the program meant, and the
 * words that bring it where it was meant to go.
 */

import {
  type ArcShape,
  type Place as Coordinates,
  type LocatedWord,
  MOTION_G,
  type Motion,
  type TracedLine,
} from '../program/index.js';
import type { LandingMap, Point } from './landing-map.js';
import { FINER, ProgramLine, STAY } from './program-line.js';
import type { Refusal } from './refuse-unsafe.js';
import { writeLength, writeNumber } from './rewrite-text.js';
import {
  commandsFor,
  fitArc,
  joinStraight,
  type Place,
  sampleArc,
  sampleLine,
} from './split-path.js';

export interface RewriteTask {
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

/** Names of places: what they round would shift everything behind, and add up. */
const NAME_DIGITS = 6;

const CENTRES = 'IJKR';

type Pair = [number | undefined, number | undefined];

/** What the machine is told so far, beside what the program meant. */
export class Rewriter {
  readonly ends: WrittenEnd[] = [];
  readonly refusals: Refusal[] = [];
  readonly counts: RewriteCounts = { changed: 0, split: 0, arcsKept: 0, arcsToChords: 0 };
  largestChangeMm = 0;
  readonly #task: RewriteTask;
  /** Where the commands stand, in the coordinates of the anchors, mm. */
  #command: Pair = [undefined, undefined];
  /** The same as the program meant it. */
  #meant: Pair = [undefined, undefined];
  #anchors: readonly number[] = [];
  /** Motion code in force in what was written. */
  #code: number | undefined;

  constructor(task: RewriteTask) {
    this.#task = task;
  }

  /** @param text of the line, without its end. @returns the lines that stand for it. */
  rewrite(traced: TracedLine, text: string): string[] {
    const { block, motions } = traced;
    const [first] = motions;
    const namesXY = block.values.has('X') || block.values.has('Y');
    const isPath = first !== undefined && first.kind !== 'other';
    let lines = [text];
    if (isPath && (namesXY || first.kind === 'arc')) {
      const line = new ProgramLine(traced, text);
      if (first.kind === 'cycle') lines = this.#drill(line, motions);
      else if (first.kind === 'arc') lines = this.#followArc(line, first);
      else lines = this.#followLine(line, first);
      if (lines.length > 1) this.counts.split += 1;
      if (lines.length > 1 || lines[0] !== text) this.counts.changed += 1;
    } else {
      if (namesXY && renames(traced)) lines = [this.#rename(new ProgramLine(traced, text))];
      else if (motions.length > 0) lines = [this.#withCode(new ProgramLine(traced, text))];
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
  #withCode(line: ProgramLine): string {
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
  #rename(line: ProgramLine): string {
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

  #followLine(line: ProgramLine, { kind, from, to }: Motion): string[] {
    const meant = this.#gridPlace(to);
    const end = this.#commandFor(meant);
    const isKnown = from[0] !== undefined && from[1] !== undefined && this.#isPlaced();
    let ends = [end];
    if (kind === 'feed' && isKnown) {
      const start = this.#gridPlace(from);
      const samples = commandsFor(sampleLine(start, meant, this.#task.map), this.#task.map);
      const path = [this.#hereAt(start[2]), ...samples];
      ends = joinStraight(path, this.#task.toleranceMm).map((k) => path[k]!);
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

  #followArc(line: ProgramLine, motion: Motion): string[] {
    const { from, to } = motion;
    const shape = this.#gridShape(motion.shape as ArcShape);
    const { map, toleranceMm } = this.#task;
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
    line: ProgramLine,
    path: readonly Place[],
    shape: ArcShape,
    meant: Place,
  ): string[] | undefined {
    const { map, toleranceMm } = this.#task;
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
  #isCentreSame(line: ProgramLine, words: readonly number[], radiusMm: number): boolean {
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
  #isUnbent({ half, unit }: ProgramLine): boolean {
    return ([0, 1] as const).every(
      (axis) => Math.abs((this.#command[axis] ?? 0) - (this.#meant[axis] ?? 0)) <= half * unit,
    );
  }

  /** An arc outside the XY plane stays as it is where nothing of it changes by a digit. */
  #keepUnchanged(line: ProgramLine, path: readonly Place[], meant: Place): string[] | undefined {
    const { motions } = line.traced;
    const shape = this.#gridShape(motions[0]!.shape as ArcShape);
    const from = this.#gridPlace(motions[0]!.from);
    const places = [from, ...sampleArc(from, meant, shape, this.#task.toleranceMm)];
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
  #drill(line: ProgramLine, motions: readonly Motion[]): string[] {
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
    line: ProgramLine,
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
  #settleEnd(line: ProgramLine, end: Place, mayStay = true) {
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

  #refuseUnknownZ({ text, traced }: ProgramLine): string[] {
    this.refusals.push({
      line: traced.index + 1,
      what: 'a move in X, Y and Z that has to be split, from an unknown Z',
      hint: 'name Z in an earlier move',
    });
    return [text];
  }

  /** Grid coordinates less those of the anchors. */
  #shift(axis: 0 | 1): number {
    const { datum, zeroMm } = this.#task;
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
    return [...this.#task.map.commandFor([x, y]), z] as const;
  }

  #isPlaced(): boolean {
    return this.#command[0] !== undefined && this.#command[1] !== undefined;
  }

  #hereAt(z: number): Place {
    const [x, y] = this.#command;
    return [x! + this.#shift(0), y! + this.#shift(1), z];
  }
}

/** Codes whose X and Y are names of the present position. */
function renames({ block }: TracedLine): boolean {
  return block.g.has(920) || (block.g.has(100) && block.values.get('L') === 20);
}

function isWholeTurns(sweepRad: number): boolean {
  const turns = sweepRad / (2 * Math.PI);
  return Math.abs(turns - Math.round(turns)) < 1e-9 && Math.round(turns) !== 0;
}
