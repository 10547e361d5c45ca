/** Motions → holes: drilling cycles, plunges, full circles. */

import type { Approach, Hole, HoleStep } from '../../shared/stroke.js';
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
    const hole =
      motion.kind === 'cycle' ? describeCycle(motion, notes) : watch.see(motion, movesAtAll);
    if (motion.kind === 'cycle') watch.forget();
    if (hole === undefined) continue;
    const [x, y] = motion.to;
    if (x === undefined || y === undefined) {
      notes.add('PROGRAM_HOLES_PASSED_OVER', hole.line, 'place unknown');
      continue;
    }
    const { approachX, approachY, conditions } = motion;
    const { place } = conditions;
    found.push({ ...hole, index, centreMm: [x, y], place, approachX, approachY });
  }
  return found.sort((one, other) => one.index - other.index);
}

type HoleStart = HoleStep & Pick<HoleSighting, 'line'>;

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

function describeCycle({ line, shape }: Motion, notes: Notes): HoleStart | undefined {
  const bottomMm = shape?.kind === 'cycle' ? shape.bottomMm : undefined;
  if (bottomMm !== undefined && bottomMm >= -NO_MOVE_MM) {
    notes.add('PROGRAM_HOLES_PASSED_OVER', line, 'above the surface');
    return undefined;
  }
  return { line, pathDiameterMm: 0, bottomMm };
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

  see(motion: Motion, moves: (motion: Motion) => boolean): HoleStart | undefined {
    if (motion.movesXY) {
      this.#plunge = undefined;
      return undefined;
    }
    if (!moves(motion)) return undefined;
    if (!isBelow(motion.to)) {
      const done = this.#plunge;
      this.#plunge = undefined;
      if (done === undefined || !done.hasFed) return undefined;
      return { line: done.line, pathDiameterMm: 0, bottomMm: done.bottomMm };
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
  const gathered: { hole: Omit<Hole, 'steps' | 'kind'>; steps: HoleStep[] }[] = [];
  const cells = new CentreIndex();
  for (const { centreMm, line, approachX, approachY, pathDiameterMm, bottomMm } of sightings) {
    const [x, y] = [centreMm[0] - (datum?.offsetX ?? 0), centreMm[1] - (datum?.offsetY ?? 0)];
    const step = { pathDiameterMm, bottomMm };
    const id = cells.find(x, y) ?? cells.add(x, y, gathered.length);
    const known = gathered[id];
    if (known === undefined) {
      const hole = { id, centreMm: [x, y] as const, approachX, approachY, sourceLine: line };
      gathered.push({ hole, steps: [step] });
    } else {
      addStep(known.steps, step);
    }
  }
  return gathered.map(({ hole, steps }) => ({
    ...hole,
    kind: steps.some((step) => step.pathDiameterMm > 0) ? 'milled' : 'drilled',
    steps,
  }));
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

/** Finds what lies within {@link SAME_CIRCLE_MM} without looking at everything. */
class CentreIndex {
  readonly #cells = new Map<string, { x: number; y: number; id: number }[]>();

  find(x: number, y: number): number | undefined {
    const [column, row] = cellOf(x, y);
    for (let i = column - 1; i <= column + 1; i += 1) {
      for (let j = row - 1; j <= row + 1; j += 1) {
        for (const other of this.#cells.get(`${i},${j}`) ?? []) {
          if (Math.hypot(other.x - x, other.y - y) <= SAME_CIRCLE_MM) return other.id;
        }
      }
    }
    return undefined;
  }

  add(x: number, y: number, id: number): number {
    const key = cellOf(x, y).join();
    const cell = this.#cells.get(key) ?? [];
    cell.push({ x, y, id });
    this.#cells.set(key, cell);
    return id;
  }
}

function cellOf(x: number, y: number): [number, number] {
  return [Math.floor(x / SAME_CIRCLE_MM), Math.floor(y / SAME_CIRCLE_MM)];
}
