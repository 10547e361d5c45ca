/** Proposes placements of the grid in one reduced picture, ranks them and fits the best. */

import { findPencils } from './find-pencils.js';
import { fitImageMap } from './fit-image-map.js';
import type { ImageMap } from './image-map.js';
import { judgePlacement, type Verdict, WORST_ASPECT } from './judge-placement.js';
import { type Evidence, weighPlacement } from './lattice-evidence.js';
import { aspectOf } from './measure-placement.js';
import { shiftedMap } from './placement-turns.js';
import type { Sight } from './probe-unit.js';
import type { ProgramGrid } from './program-grid.js';
import { isUnmirrored, proposePlacements } from './propose-placements.js';
import type { ReducedImage } from './reduce-image.js';
import { mapRidges } from './ridge-field.js';
import { linkSegments } from './ridge-segments.js';
import { sharpenPencils } from './sharpen-pencils.js';
import { USUAL_RATES } from './tally.js';

export interface Candidate {
  readonly map: ImageMap;
  readonly evidence: Evidence;
  readonly verdict: Verdict;
  readonly sight: Sight;
  readonly picture: ReducedImage;
}

/** Placements fitted in full after the quick ranking. */
const FITTED = 5;
/**
 * Marks of the fitted grid lie this close to their places, as share of the gap; frames, board edges and
 * grain mostly do not. A page that curls by a twentieth of a gap still passes.
 */
export const EXACT = 0.07;
/** The accepted one of two, else the one with more evidence. */
export function isBetter(a: Candidate, b: Candidate): boolean {
  if (a.verdict.accepted !== b.verdict.accepted) return a.verdict.accepted;
  return a.evidence.logOdds > b.evidence.logOdds;
}

/** One search at one size, for marks of one sign. Undefined where no two families of lines cross. */
export function searchPlacement(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  step: (name: string) => void,
): Candidate | undefined {
  const { width, height } = picture;
  const frame = {
    centrePx: [(width - 1) / 2, (height - 1) / 2] as const,
    radiusPx: Math.hypot(width, height) / 2,
  };
  const segments = linkSegments(mapRidges(sight.field, sight.sign));
  step('segments');
  const pairs = findPencils(segments, width, height).slice(0, 3);
  step('pencils');
  const ranked: { map: ImageMap; logOdds: number }[] = [];
  for (const pair of pairs) {
    const sharp = sharpenPencils(pair, frame.radiusPx);
    step('sharpen');
    const placements = proposePlacements(sharp, grid, frame)
      .filter(({ map }) => Math.abs(Math.log(aspectOf(map))) < WORST_ASPECT)
      .slice(0, 60);
    step('rows');
    const rank = (maps: readonly ImageMap[], most: number) =>
      maps
        .map((map) => ({ map, quick: weighPlacement(sight, map, grid, 0.25, USUAL_RATES, most) }))
        .filter(({ quick }) => quick.inPicture > 0.4)
        .sort((a, b) => b.quick.logOdds - a.quick.logOdds);
    const first = rank(
      placements.map((placement) => placement.map),
      200,
    ).slice(0, 12);
    for (const { map, quick } of rank(
      first.map((placement) => placement.map),
      600,
    )) {
      ranked.push({ map, logOdds: quick.logOdds });
    }
    step('rank');
  }
  ranked.sort((a, b) => b.logOdds - a.logOdds);
  let best: Candidate | undefined;
  for (const { map } of ranked.slice(0, FITTED)) {
    const candidate = fitPlacement(sight, picture, grid, map);
    if (candidate !== undefined && (best === undefined || isBetter(candidate, best))) {
      best = candidate;
    }
  }
  step('fit');
  if (best !== undefined) best = tryShifts(best, grid);
  step('shifts');
  return best;
}

/** Alternates between looking for the marks, ever closer, and fitting the map to them. */
function fitPlacement(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  start: ImageMap,
): Candidate | undefined {
  let map = start;
  for (const window of [0.35, 0.3, 0.2, 0.12]) {
    const { sightings } = weighPlacement(sight, map, grid, window, USUAL_RATES, 3000);
    const next = fitImageMap(map, sightings);
    if (next === undefined || !isUnmirrored(next, grid)) return undefined;
    map = next;
  }
  const evidence = weighPlacement(sight, map, grid, EXACT, USUAL_RATES);
  return {
    map,
    evidence,
    sight,
    picture,
    verdict: judgePlacement(sight, map, grid, evidence),
  };
}

/** An index shift must lose; where it wins, it is the better start. */
function tryShifts(best: Candidate, grid: ProgramGrid): Candidate {
  let current = best;
  for (let round = 0; round < SHIFT_ROUNDS; round++) {
    const shifted = FAR_SHIFTS.map(([i, j]) => {
      const map = shiftedMap(current.map, grid, i, j);
      return {
        map,
        quick: weighPlacement(current.sight, map, grid, 1.5 * EXACT, USUAL_RATES, 2000),
      };
    });
    const top = shifted.reduce((a, b) => (b.quick.logOdds > a.quick.logOdds ? b : a));
    if (top.quick.logOdds <= current.evidence.logOdds) return current;
    const fitted = fitPlacement(current.sight, current.picture, grid, top.map);
    if (fitted === undefined || !isBetter(fitted, current)) return current;
    current = fitted;
  }
  return current;
}

const SHIFT_ROUNDS = 8;
const FAR_SHIFTS = crossShifts(5);
export const NEAR_SHIFTS = crossShifts(2);

/** Shifts by whole lines along one axis at a time. */
function crossShifts(most: number): (readonly [number, number])[] {
  const shifts: (readonly [number, number])[] = [];
  for (let k = 1; k <= most; k++) shifts.push([k, 0], [-k, 0], [0, k], [0, -k]);
  return shifts;
}
