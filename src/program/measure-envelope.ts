/** Where a program moves, from end to end of each axis. */

import { type ArcShape, type Motion, NO_MOVE_MM, type Place } from './motion.js';
import type { Notes } from './notes.js';

/** From and to, mm; undefined where no position of the axis is known. */
export type AxisRange = readonly [from: number, to: number] | undefined;

/** X and Y in the coordinates of the marks, Z as the words name it. */
export interface Envelope {
  readonly x: AxisRange;
  readonly y: AxisRange;
  readonly z: AxisRange;
}

/**
 * The envelope of all motions with known positions: rapid moves, arcs with their bulge, cycles down
 * to their bottom. Moves whose X or Y cannot be related to the datum are left out in that axis, with
 * a note.
 */
export function measureEnvelope(
  motions: readonly Motion[],
  datum: Place | undefined,
  notes: Notes,
): Envelope {
  const reach = new Reach();
  for (const { from, to, conditions, shape, line } of motions) {
    const { anchorX, anchorY } = conditions.place;
    const isRelated = [anchorX === datum?.anchorX, anchorY === datum?.anchorY, true];
    for (const axis of [0, 1, 2]) {
      if (isRelated[axis]) {
        reach.add(axis, from[axis]);
        reach.add(axis, to[axis]);
      } else if (to[axis] !== undefined || from[axis] !== undefined) {
        notes.add('PROGRAM_MOVES_UNRELATED', line);
      }
    }
    if (shape?.kind === 'cycle') {
      reach.add(2, shape.bottomMm);
      reach.add(2, shape.retractMm);
    } else if (shape !== undefined) {
      addBulge(reach, shape, from, isRelated);
    }
  }
  return {
    x: reach.range(0, datum?.offsetX ?? 0),
    y: reach.range(1, datum?.offsetY ?? 0),
    z: reach.range(2, 0),
  };
}

class Reach {
  readonly #least = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  readonly #most = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];

  add(axis: number, mm: number | undefined): void {
    if (mm === undefined) return;
    if (mm < this.#least[axis]!) this.#least[axis] = mm;
    if (mm > this.#most[axis]!) this.#most[axis] = mm;
  }

  range(axis: number, offsetMm: number): AxisRange {
    const [from, to] = [this.#least[axis]!, this.#most[axis]!];
    return from > to ? undefined : [from - offsetMm, to - offsetMm];
  }
}

/** The quarter points of the circle that the arc passes. */
function addBulge(
  reach: Reach,
  { axes, centreMm, radiusMm, sweepRad }: ArcShape,
  from: Motion['from'],
  isRelated: readonly boolean[],
): void {
  const start = Math.atan2(from[axes[1]]! - centreMm[1], from[axes[0]]! - centreMm[0]);
  for (const [quarter, [index, sign]] of QUARTERS.entries()) {
    const ahead = (quarter * Math.PI) / 2 - start;
    const forward = sweepRad > 0 ? ahead : -ahead;
    const turned = forward - 2 * Math.PI * Math.floor(forward / (2 * Math.PI));
    const axis = axes[index]!;
    if (turned > Math.abs(sweepRad) || !isRelated[axis]) continue;
    // A start at the quarter point itself is known better.
    if (turned * radiusMm <= NO_MOVE_MM) continue;
    reach.add(axis, centreMm[index]! + sign * radiusMm);
  }
}

/** From the first axis on, counterclockwise. */
const QUARTERS = [
  [0, 1],
  [1, 1],
  [0, -1],
  [1, -1],
] as const;
