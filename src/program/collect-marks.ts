/** Motions → strokes and holes, in one set of coordinates. */

import type { Stroke } from '../../shared/stroke.js';
import { type Outcome, success } from '../quantity/index.js';
import { type CollectedStrokes, collectStrokes, refuseCoordinates } from './collect-strokes.js';
import { findCircles } from './find-circles.js';
import { findHoles, type HoleSighting } from './find-holes.js';
import type { Marking } from './marked-part.js';
import { areRelated, type Motion, type Place } from './motion.js';
import { Notes } from './notes.js';

export interface CollectedMarks {
  readonly strokes: readonly Stroke[];
  /** Holes to be gathered; each in coordinates related to the datum. */
  readonly sightings: readonly HoleSighting[];
  /** The coordinates of the first mark, which strokes stand in; undefined without any mark. */
  readonly datum: Place | undefined;
  /** Holes that are the only marks, but cannot be related to each other. */
  readonly conflict: ReturnType<typeof refuseCoordinates> | undefined;
  readonly notes: Notes;
}

/**
 * Collects the marks. Their coordinates are those of the first one. Holes that cannot be related to
 * the strokes are passed over; where there are no strokes, all holes must be related, else there is a
 * conflict.
 *
 * Fails: PROGRAM_INVALID where strokes stand in coordinates whose relation is unknown.
 */
export function collectMarks(
  name: string,
  motions: readonly Motion[],
  marking: Marking,
): Outcome<CollectedMarks> {
  const notes = new Notes();
  const { circles, isClaimed } = findCircles(motions, marking);
  const collected = collectStrokes(name, motions, isClaimed, marking, notes);
  if (!collected.ok) return collected;
  const sightings = findHoles(motions, circles, marking, notes);
  const { related, conflict } = relateHoles(name, sightings, collected.value, notes);

  const [firstHole] = related;
  const isHoleFirst = firstHole !== undefined && firstHole.index < collected.value.firstIndex;
  const datum = isHoleFirst ? firstHole.place : collected.value.place;
  return success({
    strokes: shiftStrokes(collected.value.strokes, datum),
    sightings: related,
    datum,
    conflict,
    notes,
  });
}

function relateHoles(
  name: string,
  sightings: readonly HoleSighting[],
  { place }: CollectedStrokes,
  notes: Notes,
): { related: HoleSighting[]; conflict: CollectedMarks['conflict'] } {
  const [first] = sightings;
  const datum = place ?? first?.place;
  const related: HoleSighting[] = [];
  let conflict: CollectedMarks['conflict'];
  for (const hole of sightings) {
    if (datum !== undefined && areRelated(hole.place, datum)) related.push(hole);
    else if (place === undefined) conflict ??= refuseCoordinates(name, first!.line, hole.line);
    else notes.add('PROGRAM_HOLES_PASSED_OVER', hole.line, 'other coordinates');
  }
  return { related, conflict };
}

function shiftStrokes(strokes: readonly Stroke[], datum: Place | undefined): readonly Stroke[] {
  if (datum === undefined || (datum.offsetX === 0 && datum.offsetY === 0)) return strokes;
  const shift = ([x, y]: Stroke['fromMm']) => [x - datum.offsetX, y - datum.offsetY] as const;
  return strokes.map((stroke) => ({
    ...stroke,
    fromMm: shift(stroke.fromMm),
    toMm: shift(stroke.toMm),
  }));
}
