/** Motions → holes: drilling cycles, plunges, full circles. */

import type { Approach, Hole, HoleStep } from '../../shared/stroke.js';
import { CentreIndex } from './centre-index.js';
import { type Circle, deeper, SAME_CIRCLE_MM } from './find-circles.js';
import { isBelow, type Marking } from './marked-part.js';
import { type Motion, movesAtAll, NO_MOVE_MM, type Place } from './motion.js';
import type { Notes } from './notes.js';

/** One go at a hole. */
export interface HoleSighting extends HoleStep {
  /** Place in the list of motions. */
  readonly index: number;
  readonly line: number;
  /** In the coordinates of the place, mm. */
  readonly centreMm: readonly [x: number, y: number];
  readonly place: Place;
  readonly approachX: Approach;
  readonly approachY: Approach;
}

/**
 * The holes that motions make, in their order. Drilled: a cycle that ends below the surface, and a
 * tool that goes below it and, with feed at least once, comes up again without moving aside (a beam
 * would have to be on). Milled: full circles.
 */
export function findHoles(
  motions: readonly Motion[],
  circles: readonly Circle[],
  marking: Marking,
  notes: Notes,
): HoleSighting[] {
  const found: HoleSighting[] = circles.map((circle) => describeCircle(motions, circle));
  const watch = new PlungeWatch(marking);
  for (const [index, motion] of motions.entries()) {
    const hole = motion.kind === 'cycle' ? describeCycle(motion, notes) : watch.see(motion);
    if (motion.kind === 'cycle') watch.forget();
    if (hole === undefined) continue;
    const [x, y] = motion.to;
    if (x === undefined || y === undefined) {
      notes.add('PROGRAM_HOLES_PASSED_OVER', hole.line, 'place unknown');
      continue;
    }
    found.push({
      index,
      line: hole.line,
      centreMm: [x, y],
      place: motion.conditions.place,
      pathDiameterMm: 0,
      bottomMm: hole.bottomMm,
      approachX: motion.approachX,
      approachY: motion.approachY,
    });
  }
  return found.sort((one, other) => one.index - other.index);
}

type Drilled = Pick<HoleSighting, 'line' | 'bottomMm'>;

function describeCircle(motions: readonly Motion[], circle: Circle): HoleSighting {
  const { begin, firstArc, centreMm, radiusMm, bottomMm } = circle;
  const { line, conditions } = motions[firstArc]!;
  const before = motions[begin - 1];
  return {
    index: firstArc,
    line,
    centreMm,
    place: conditions.place,
    pathDiameterMm: 2 * radiusMm,
    bottomMm,
    approachX: before?.approachX ?? 0,
    approachY: before?.approachY ?? 0,
  };
}

function describeCycle({ line, shape }: Motion, notes: Notes): Drilled | undefined {
  const bottomMm = shape?.kind === 'cycle' ? shape.bottomMm : undefined;
  if (bottomMm !== undefined && bottomMm >= -NO_MOVE_MM) {
    notes.add('PROGRAM_HOLES_PASSED_OVER', line, 'above the surface');
    return undefined;
  }
  return { line, bottomMm };
}

/** Watches for a tool that goes down and up again without moving aside. */
class PlungeWatch {
  readonly #marking: Marking;
  #plunge: { line: number; bottomMm: number; hasFed: boolean } | undefined;

  constructor(marking: Marking) {
    this.#marking = marking;
  }

  forget(): void {
    this.#plunge = undefined;
  }

  see(motion: Motion): Drilled | undefined {
    if (motion.movesXY) {
      this.#plunge = undefined;
      return undefined;
    }
    if (!movesAtAll(motion)) return undefined;
    if (!isBelow(motion.to)) {
      const done = this.#plunge;
      this.#plunge = undefined;
      if (done === undefined || !done.hasFed) return undefined;
      return { line: done.line, bottomMm: done.bottomMm };
    }
    const z = motion.to[2]!;
    const cuts = this.#marking === 'cutter' || motion.conditions.isSpindleOn;
    const hasFed = motion.kind === 'feed' && cuts && z < (motion.from[2] ?? 0);
    if (!isBelow(motion.from)) {
      this.#plunge = { line: motion.line, bottomMm: z, hasFed };
    } else if (this.#plunge !== undefined) {
      this.#plunge.bottomMm = Math.min(this.#plunge.bottomMm, z);
      this.#plunge.hasFed ||= hasFed;
    }
    return undefined;
  }
}

/**
 * Puts sightings about one centre together.
 *
 * @param sightings in their order, all in coordinates related to the datum.
 */
export function gatherHoles(sightings: readonly HoleSighting[], datum: Place | undefined): Hole[] {
  const gathered: { -readonly [key in keyof Hole]: Hole[key] }[] = [];
  const stepsOf: HoleStep[][] = [];
  const centres = new CentreIndex();
  for (const { centreMm, line, approachX, approachY, pathDiameterMm, bottomMm } of sightings) {
    const x = centreMm[0] - (datum?.offsetX ?? 0);
    const y = centreMm[1] - (datum?.offsetY ?? 0);
    const id = centres.settle(x, y);
    const kind = pathDiameterMm > 0 ? 'milled' : 'drilled';
    if (id === gathered.length) {
      const steps = [{ pathDiameterMm, bottomMm }];
      stepsOf.push(steps);
      const sourceLine = line;
      gathered.push({ id, centreMm: [x, y], kind, steps, approachX, approachY, sourceLine });
    } else {
      addStep(stepsOf[id]!, { pathDiameterMm, bottomMm });
      if (kind === 'milled') gathered[id]!.kind = kind;
    }
  }
  return gathered;
}

function addStep(steps: HoleStep[], step: HoleStep): void {
  const index = steps.findIndex(
    ({ pathDiameterMm }) => Math.abs(pathDiameterMm - step.pathDiameterMm) <= SAME_CIRCLE_MM,
  );
  if (index < 0) {
    steps.push(step);
    return;
  }
  const { pathDiameterMm, bottomMm } = steps[index]!;
  steps[index] = { pathDiameterMm, bottomMm: deeper(bottomMm, step.bottomMm) };
}
