/** Motions → strokes: which motions leave a straight mark, and which marks are one stroke. */

import type { Stroke } from '../../shared/stroke.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { isBelow, type Marking, markedPart } from './marked-part.js';
import { type AxisPositions, areRelated, type Motion, movesAtAll, type Place } from './motion.js';
import type { Notes } from './notes.js';

export interface CollectedStrokes {
  /** In the coordinates of {@link place}, its offset not taken off. */
  readonly strokes: Stroke[];
  /** Of the first one. */
  readonly place: Place | undefined;
  /** Of the first one, in the list of motions. */
  readonly firstIndex: number;
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
 * @param isClaimed 1 where the motion at this place belongs to a hole.
 * Fails: PROGRAM_INVALID where marks stand in coordinates whose relation is unknown.
 */
export function collectStrokes(
  name: string,
  motions: readonly Motion[],
  isClaimed: Uint8Array,
  marking: Marking,
  notes: Notes,
): Outcome<CollectedStrokes> {
  const strokes: Stroke[] = [];
  let last: Motion | undefined;
  let first: Motion | undefined;
  let firstIndex = motions.length;
  let isOpen = false;

  for (const [index, motion] of motions.entries()) {
    if (!movesAtAll(motion)) continue;
    const mark = isClaimed[index] === 1 ? undefined : seeMotion(motion, marking, notes);
    if (mark === undefined) {
      isOpen = false;
      continue;
    }
    if (first === undefined) {
      first = motion;
      firstIndex = index;
    }
    const { conditions } = motion;
    if (!areRelated(conditions.place, first.conditions.place)) {
      return refuseCoordinates(name, first.line, motion.line);
    }
    const before = strokes.at(-1);
    const isSameSession =
      marking === 'cutter' || last?.conditions.spindleSession === conditions.spindleSession;
    if (isOpen && mark.isWhole[0] && isSameSession && before && goesOn(before, mark, motion)) {
      strokes[strokes.length - 1] = lengthen(before, mark.to, motion);
    } else {
      strokes.push({
        id: strokes.length,
        fromMm: mark.from,
        toMm: mark.to,
        approachX: motion.approachX,
        approachY: motion.approachY,
        sourceLine: motion.line,
        feedMmPerMin: conditions.feedMmPerMin,
        power: conditions.power,
      });
    }
    isOpen = mark.isWhole[1];
    last = motion;
  }
  return success({ strokes, place: first?.conditions.place, firstIndex });
}

/** @returns what a motion marks as a stroke; notes what it marks otherwise. */
function seeMotion(motion: Motion, marking: Marking, notes: Notes): Mark | undefined {
  const { kind, movesXY, line, conditions } = motion;
  if (!movesXY) return undefined;
  const isLow = isBelow(motion.from) && isBelow(motion.to);
  if (kind === 'rapid' && marking === 'cutter' && isLow) {
    notes.add('PROGRAM_RAPID_BELOW_SURFACE', line);
  }
  if (kind !== 'feed' && kind !== 'arc') return undefined;
  const part = markedPart(motion, marking);
  if (part === undefined) return undefined;
  if (conditions.isCompensated) {
    notes.add('PROGRAM_COMPENSATED_PASSED_OVER', line);
    return undefined;
  }
  if (kind === 'arc') {
    notes.add('PROGRAM_ARCS_PASSED_OVER', line);
    return undefined;
  }
  const from = pointOf(motion.from);
  const to = pointOf(motion.to);
  if (from === undefined || to === undefined || part === 'unknown') {
    notes.add('PROGRAM_MARKS_UNPLACED', line);
    return undefined;
  }
  return {
    from: part[0] === 0 ? from : between(from, to, part[0]),
    to: part[1] === 1 ? to : between(from, to, part[1]),
    isWhole: [part[0] === 0, part[1] === 1],
  };
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

/** Where feed or power change within a stroke, it has neither of its own. */
function lengthen(stroke: Stroke, toMm: Point, { conditions }: Motion): Stroke {
  const { feedMmPerMin, power } = stroke;
  return {
    ...stroke,
    toMm,
    feedMmPerMin: feedMmPerMin === conditions.feedMmPerMin ? feedMmPerMin : undefined,
    power: power === conditions.power ? power : undefined,
  };
}

export function refuseCoordinates(
  name: string,
  firstLine: number,
  line: number,
): ReturnType<typeof failed> {
  return failed(
    'PROGRAM_INVALID',
    `line ${line}: this mark stands in other coordinates than the marks from line ${firstLine} on`,
    {
      where: name,
      figures: { line },
      hint: 'mark the whole grid in one coordinate system, or let the program set the origins of all of them (G10 L2) and clear presets (G92.1) before its first mark; or give each part as a program of its own',
    },
  );
}
