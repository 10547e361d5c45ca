/** Full circles among the motions, and the moves that belong to them. */

import { isBelow, type Marking, markedPart } from './marked-part.js';
import { type ArcShape, type Motion, movesAtAll } from './motion.js';

export interface Circle {
  /** Places in the list of motions: of the first that belongs to it, and of its first arc. */
  readonly begin: number;
  readonly firstArc: number;
  readonly centreMm: readonly [x: number, y: number];
  readonly radiusMm: number;
  /** Deepest Z below the surface, mm; undefined where it does not go below. */
  readonly bottomMm: number | undefined;
}

export interface FoundCircles {
  readonly circles: readonly Circle[];
  /** 1 where the motion at this place belongs to a circle: it is no stroke. */
  readonly isClaimed: Uint8Array;
}

/**
 * Lengths that differ by less are the same, mm: words of four digits of an inch, or three of a mm,
 * five of which make a circle (0.0005 in). Far below what a hole is asked for.
 */
export const SAME_CIRCLE_MM = 0.0127;

/** Arcs that follow each other as one mark. */
interface Run {
  readonly first: number;
  last: number;
  readonly shape: ArcShape;
  sweepRad: number;
  bottomMm: number | undefined;
}

/**
 * Finds full circles. Arcs in the XY plane are one run where they follow each other without a gap in
 * the mark, about one centre, with one radius, in one sense. A run is a full circle where its marked
 * parts add up to a whole turn, whether by one arc or many, flat or falling. Centre, radius and the
 * place where it closes agree within {@link SAME_CIRCLE_MM}.
 *
 * Moves with feed that join the run directly, before or behind it, and lie within the circle belong
 * to it: the way from the centre to the rim, the way from one ring to the next, the clearing of a
 * pocket up to its finishing circle. A rapid move, or one that leaves the circle, ends them.
 */
export function findCircles(motions: readonly Motion[], marking: Marking): FoundCircles {
  const isClaimed = new Uint8Array(motions.length);
  const runs = findRuns(motions, marking).filter(isFullCircle);
  const circles = runs.map((run, index): Circle => {
    const after = (runs[index - 1]?.last ?? -1) + 1;
    const before = runs[index + 1]?.first ?? motions.length;
    for (let at = run.first; at <= run.last; at += 1) isClaimed[at] = 1;
    const begin = claimJoined(motions, marking, run, run.first - 1, -1, after, isClaimed);
    claimJoined(motions, marking, run, run.last + 1, 1, before - 1, isClaimed);
    const { centreMm, radiusMm } = run.shape;
    return { begin, firstArc: run.first, centreMm, radiusMm, bottomMm: run.bottomMm };
  });
  return { circles, isClaimed };
}

function findRuns(motions: readonly Motion[], marking: Marking): Run[] {
  const runs: Run[] = [];
  let open: Run | undefined;
  for (const [index, motion] of motions.entries()) {
    const { shape, conditions } = motion;
    const isFlat = shape?.kind === 'arc' && shape.axes[0] === 0;
    const part = isFlat ? markedPart(motion, marking) : undefined;
    if (!isFlat || !Array.isArray(part) || conditions.isCompensated) {
      if (movesAtAll(motion)) open = undefined;
      continue;
    }
    const sweepRad = shape.sweepRad * (part[1] - part[0]);
    if (open !== undefined && areSame(open.shape, shape)) {
      open.last = index;
      open.sweepRad += sweepRad;
      open.bottomMm = deeper(open.bottomMm, deepestOf(motion));
    } else {
      open = { first: index, last: index, shape, sweepRad, bottomMm: deepestOf(motion) };
      runs.push(open);
    }
    if (part[1] < 1) open = undefined;
  }
  return runs;
}

function areSame(one: ArcShape, other: ArcShape): boolean {
  const aside = Math.hypot(
    one.centreMm[0] - other.centreMm[0],
    one.centreMm[1] - other.centreMm[1],
  );
  return (
    aside <= SAME_CIRCLE_MM &&
    Math.abs(one.radiusMm - other.radiusMm) <= SAME_CIRCLE_MM &&
    one.sweepRad > 0 === other.sweepRad > 0
  );
}

function isFullCircle({ shape, sweepRad }: Run): boolean {
  return (2 * Math.PI - Math.abs(sweepRad)) * shape.radiusMm <= SAME_CIRCLE_MM;
}

function deepestOf({ from, to }: Motion): number | undefined {
  const least = Math.min(from[2] ?? 0, to[2] ?? 0);
  return least < 0 ? least : undefined;
}

export function deeper(one: number | undefined, other: number | undefined): number | undefined {
  if (one === undefined || other === undefined) return one ?? other;
  return Math.min(one, other);
}

/** @returns the last place claimed, or where the run itself ends. */
function claimJoined(
  motions: readonly Motion[],
  marking: Marking,
  run: Run,
  from: number,
  step: 1 | -1,
  until: number,
  isClaimed: Uint8Array,
): number {
  let last = step < 0 ? run.first : run.last;
  for (let at = from; step * (until - at) >= 0; at += step) {
    const motion = motions[at]!;
    const isRapid = motion.kind === 'rapid' && movesAtAll(motion);
    if (isRapid || motion.kind === 'cycle' || motion.kind === 'other') break;
    if (motion.conditions.isCompensated) break;
    if (!motion.movesXY) {
      // Up out of the board, or down into it, ends what is one mark.
      if (marking === 'cutter' && !isBelow(motion.from) !== !isBelow(motion.to)) break;
      continue;
    }
    if (markedPart(motion, marking) === undefined || !liesWithin(motion, run.shape)) break;
    isClaimed[at] = 1;
    last = at;
  }
  return last;
}

function liesWithin({ from, to, shape }: Motion, circle: ArcShape): boolean {
  const distance = (x: number | undefined, y: number | undefined) =>
    x === undefined || y === undefined
      ? Number.POSITIVE_INFINITY
      : Math.hypot(x - circle.centreMm[0], y - circle.centreMm[1]);
  const limit = circle.radiusMm + SAME_CIRCLE_MM;
  if (distance(from[0], from[1]) > limit || distance(to[0], to[1]) > limit) return false;
  if (shape?.kind !== 'arc') return true;
  return shape.axes[0] === 0 && distance(...shape.centreMm) + shape.radiusMm <= limit;
}
