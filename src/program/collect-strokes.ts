/** Motions → strokes: which motions leave a mark, and which marks are one stroke. */

import type { Stroke } from '../../shared/stroke.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { type AxisPositions, type Motion, NO_MOVE_MM } from './motion.js';
import { Notes } from './notes.js';

/** How the marks were made: burnt, where the beam is on, or cut, where Z is below the surface. */
export type Marking = 'laser' | 'cutter';

export interface CollectedStrokes {
  readonly strokes: readonly Stroke[];
  readonly notes: Notes;
}

type Point = readonly [x: number, y: number];

/** Part of a motion that marks. */
interface Mark {
  readonly from: Point;
  readonly to: Point;
  /** Nothing of the motion was cut off at its start, at its end. */
  readonly isWhole: readonly [start: boolean, end: boolean];
}

/** How far off a line a point may lie to belong to it, mm: rounding of inches, far below any mark. */
const ON_LINE_MM = 1e-6;

/**
 * Collects the strokes. Laser: a G1 move in X or Y with M3 or M4 in force and S above 0. Cutter: the
 * part of a G1 move in X or Y with Z below 0. Marks that follow each other without anything between
 * them, touch and go on in the same direction are one stroke.
 *
 * Fails: PROGRAM_INVALID where marks stand in coordinates whose relation is unknown.
 */
export function collectStrokes(
  name: string,
  motions: readonly Motion[],
  marking: Marking,
): Outcome<CollectedStrokes> {
  const strokes: Stroke[] = [];
  const notes = new Notes();
  const holes = new HoleWatch(notes);
  let last: Motion | undefined;
  let first: Motion | undefined;
  let isOpen = false;

  for (const motion of motions) {
    if (!movesAtAll(motion)) continue;
    if (marking === 'cutter') holes.see(motion);
    noteOtherTraces(motion, marking, notes);
    const mark = motion.kind === 'feed' && motion.movesXY ? findMark(motion, marking) : undefined;
    if (mark === undefined || mark === 'unplaced') {
      if (mark === 'unplaced') notes.add('PROGRAM_MARKS_UNPLACED', motion.line);
      isOpen = false;
      continue;
    }
    first ??= motion;
    if (motion.coordinates !== first.coordinates) return refuseCoordinates(name, first, motion);

    const before = strokes.at(-1);
    const isSameSession = marking === 'cutter' || last?.spindleSession === motion.spindleSession;
    if (isOpen && mark.isWhole[0] && isSameSession && before && goesOn(before, mark, motion)) {
      strokes[strokes.length - 1] = { ...before, toMm: mark.to };
    } else {
      strokes.push({
        id: strokes.length,
        fromMm: mark.from,
        toMm: mark.to,
        approachX: motion.approachX,
        approachY: motion.approachY,
        sourceLine: motion.line,
      });
    }
    isOpen = mark.isWhole[1];
    last = motion;
  }
  return success({ strokes, notes });
}

function movesAtAll({ from, to, movesXY }: Motion): boolean {
  if (movesXY || from[2] === undefined || to[2] === undefined) return true;
  return Math.abs(to[2] - from[2]) > NO_MOVE_MM;
}

/** Traces on the board that are no strokes. */
function noteOtherTraces(motion: Motion, marking: Marking, notes: Notes): void {
  if (!motion.movesXY) return;
  const isLow = isBelow(motion.from) && isBelow(motion.to);
  const isTrace = marking === 'laser' ? motion.isSpindleOn : isLow;
  if (motion.kind === 'arc' && isTrace) notes.add('PROGRAM_ARCS_PASSED_OVER', motion.line);
  if (motion.kind === 'rapid' && marking === 'cutter' && isLow) {
    notes.add('PROGRAM_RAPID_BELOW_SURFACE', motion.line);
  }
}

function isBelow(position: AxisPositions): boolean {
  return position[2] !== undefined && position[2] < 0;
}

/** Watches for a cutter that goes down and up again without moving aside: a hole. */
class HoleWatch {
  readonly #notes: Notes;
  #plungeLine: number | undefined;

  constructor(notes: Notes) {
    this.#notes = notes;
  }

  see(motion: Motion): void {
    if (motion.movesXY) {
      this.#plungeLine = undefined;
    } else if (isBelow(motion.to)) {
      if (motion.kind === 'feed' && !isBelow(motion.from)) this.#plungeLine = motion.line;
    } else if (this.#plungeLine !== undefined) {
      this.#notes.add('PROGRAM_HOLES_PASSED_OVER', this.#plungeLine);
      this.#plungeLine = undefined;
    }
  }
}

function findMark(motion: Motion, marking: Marking): Mark | 'unplaced' | undefined {
  if (marking === 'laser' && !motion.isSpindleOn) return undefined;
  const depths = [motion.from[2], motion.to[2]] as const;
  const range = marking === 'laser' ? ([0, 1] as const) : rangeBelow(depths);
  if (range === undefined) return undefined;
  const from = pointOf(motion.from);
  const to = pointOf(motion.to);
  if (from === undefined || to === undefined || range === 'unknown') return 'unplaced';
  return {
    from: range[0] === 0 ? from : between(from, to, range[0]),
    to: range[1] === 1 ? to : between(from, to, range[1]),
    isWhole: [range[0] === 0, range[1] === 1],
  };
}

/** The part of a move, as fractions, that runs below Z = 0. */
function rangeBelow([start, end]: readonly [number | undefined, number | undefined]):
  | readonly [number, number]
  | 'unknown'
  | undefined {
  if (end === undefined) return undefined;
  if (start === undefined) return end < 0 ? 'unknown' : undefined;
  if (start < 0 && end < 0) return [0, 1];
  if (start >= 0 && end >= 0) return undefined;
  const surface = start / (start - end);
  return start < 0 ? [0, surface] : [surface, 1];
}

function pointOf([x, y]: AxisPositions): Point | undefined {
  return x === undefined || y === undefined ? undefined : [x, y];
}

function between(from: Point, to: Point, fraction: number): Point {
  return [from[0] + fraction * (to[0] - from[0]), from[1] + fraction * (to[1] - from[1])];
}

/** The mark carries the stroke on in its own direction and with the same approach. */
function goesOn(stroke: Stroke, mark: Mark, motion: Motion): boolean {
  if (stroke.approachX !== motion.approachX || stroke.approachY !== motion.approachY) return false;
  const along = [stroke.toMm[0] - stroke.fromMm[0], stroke.toMm[1] - stroke.fromMm[1]] as const;
  const step = [mark.to[0] - stroke.toMm[0], mark.to[1] - stroke.toMm[1]] as const;
  const length = Math.hypot(...along);
  const forward = (along[0] * step[0] + along[1] * step[1]) / length;
  const aside = (along[0] * step[1] - along[1] * step[0]) / length;
  return forward > 0 && Math.abs(aside) <= ON_LINE_MM;
}

function refuseCoordinates(name: string, first: Motion, motion: Motion): ReturnType<typeof failed> {
  return failed(
    'PROGRAM_INVALID',
    `line ${motion.line}: this mark stands in other coordinates than the marks from line ${first.line} on`,
    {
      where: name,
      figures: { line: motion.line },
      hint: 'mark the whole grid in one coordinate system, without G10, G92 or G54 to G59 between marks; or give each part as a program of its own',
    },
  );
}
