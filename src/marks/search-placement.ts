/** Proposes placements of the grid in one reduced picture, ranks them and fits the best. */

import { findFaintRows } from './find-faint-rows.js';
import { findPencils, type PencilPair } from './find-pencils.js';
import { fitImageMap, type LineSighting } from './fit-image-map.js';
import { type ImageMap, scaledMap } from './image-map.js';
import { fainterFamily, judgePlacement, type Verdict, WORST_ASPECT } from './judge-placement.js';
import { type Evidence, isPlain, sightMarks, weighPlacement } from './lattice-evidence.js';
import { aspectOf, scatterOf } from './measure-placement.js';
import { composeMoves, isEven, listTurns, shiftedMap, shiftOf } from './placement-turns.js';
import type { Sight } from './probe-unit.js';
import { MIDWAY, type ProgramGrid } from './program-grid.js';
import {
  hasBoldLines,
  isUnmirrored,
  type PictureFrame,
  proposePlacements,
} from './propose-placements.js';
import type { ReducedImage } from './reduce-image.js';
import { refitRelabelled } from './relabel-marks.js';
import { mapRidges } from './ridge-field.js';
import { linkSegments } from './ridge-segments.js';
import { sharpenPencils } from './sharpen-pencils.js';
import { USUAL_RATES } from './tally.js';

export interface Candidate {
  readonly map: ImageMap;
  readonly evidence: Evidence;
  readonly verdict: Verdict;
  /** Log odds with the scatter about the map counted once per line. */
  readonly merit: number;
  readonly sight: Sight;
  readonly picture: ReducedImage;
}

/** Pairs of families looked into. */
const PAIRS = 3;
/** Placements fitted in full after the quick ranking. */
const FITTED = 5;
const FITTED_BOLD = 3;
/**
 * Marks of the fitted grid lie this close to their places, as share of the gap; frames, board edges and
 * grain mostly do not. A page that curls by a twentieth of a gap still passes.
 */
export const EXACT = 0.07;
/** Half-widths of the search across a line, round by round, from a first placement and from a fit. */
export const WIDE_WINDOWS = [0.35, 0.3, 0.2, 0.12];
export const NARROW_WINDOWS = [0.15, 0.12];
/** From a first placement where another program's lines lie midway. */
const INTERLEAVED_WINDOWS = [0.22, 0.18, 0.12];
/** Marks looked at per round of a fit. */
const MOST_UNITS = 3000;
/** Half-width of the search across a line while proposals are ranked. */
const QUICK_WINDOW = 0.25;
/** Where the best of a ranking is plain, those with less than this share of its log odds are let go. */
const LEAST_OF_FIRST = 0.85;
/** Nor are those fitted that come less near to one that is clear: a turn by half would. */
const NEARLY_FIRST = 0.95;
/** Fits whose lines are renumbered where none is accepted. */
const RENUMBERED = 3;

/** A candidate's map at the photo's full size. */
export function fullSizeMap({ map, picture }: Candidate): ImageMap {
  return scaledMap(map, picture.factor);
}

/** The accepted one of two, else the one with more evidence. */
export function isBetter(a: Candidate, b: Candidate): boolean {
  if (a.verdict.accepted !== b.verdict.accepted) return a.verdict.accepted;
  return a.merit > b.merit;
}

/** Accepted, and so plain that no other size and no other families of lines can do better. */
export function isClear({ verdict, evidence }: Candidate): boolean {
  return verdict.accepted && isPlain(evidence);
}

/** The best supported pairs of crossing families of lines, each as sharp as it can be. */
export function seePencils(
  sight: Sight,
  picture: ReducedImage,
  step: (name: string) => void,
): PencilPair[] {
  const { width, height } = picture;
  const segments = linkSegments(mapRidges(sight.field, sight.sign), sight.field);
  step('segments');
  const pairs = findPencils(segments, width, height).slice(0, PAIRS);
  step('pencils');
  const sharp = pairs.map((pair) => sharpenPencils(pair, frameOf(picture).radiusPx));
  step('sharpen');
  return sharp;
}

export function frameOf({ width, height }: ReducedImage): PictureFrame {
  return {
    centrePx: [(width - 1) / 2, (height - 1) / 2],
    radiusPx: Math.hypot(width, height) / 2,
  };
}

/**
 * One search at one size, for marks of one sign, with most of the grid in the picture.
 *
 * @param pairs families of lines seen there.
 * @returns undefined where none of them comes near the grid.
 */
export function searchPlacement(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  pairs: readonly PencilPair[],
  step: (name: string) => void,
): Candidate | undefined {
  const plain = fitProposals(sight, picture, grid, pairs, false, step);
  if (plain?.verdict.accepted) return plain;
  const bold = fitProposals(sight, picture, grid, pairs.filter(hasBoldLines), true, step);
  const best = plain === undefined || (bold !== undefined && isBetter(bold, plain)) ? bold : plain;
  if (best === undefined || best.verdict.accepted) return best;
  const faint = placeFaintRows(best, grid);
  step('faint rows');
  return faint ?? best;
}

/** A placement accepted once its family that is lost in the grain is looked for along its whole lines. */
function placeFaintRows(
  { sight, picture, map, evidence }: Candidate,
  grid: ProgramGrid,
): Candidate | undefined {
  const family = fainterFamily(evidence);
  if (family === undefined) return undefined;
  for (const near of findFaintRows(sight, map, grid, family)) {
    const candidate = fitPlacement(sight, picture, grid, near, NARROW_WINDOWS);
    if (candidate?.verdict.accepted) return candidate;
  }
  return undefined;
}

/** The best placement that the rows of lines propose, all alike or by how bold they are. */
function fitProposals(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  pairs: readonly PencilPair[],
  isBold: boolean,
  step: (name: string) => void,
): Candidate | undefined {
  const frame = frameOf(picture);
  // Among finer lines a wide search would end on one of those.
  const first = grid.freeShare < MIDWAY ? INTERLEAVED_WINDOWS : WIDE_WINDOWS;
  const windows = isBold ? NARROW_WINDOWS : first;
  const quickWindow = isBold ? NARROW_WINDOWS[0] : QUICK_WINDOW;
  const rank = (maps: readonly ImageMap[], most: number) =>
    maps
      .map((map) => ({
        map,
        quick: weighPlacement(sight, map, grid, quickWindow, USUAL_RATES, most),
      }))
      .filter(({ quick }) => quick.inPicture > 0.4)
      .sort((a, b) => b.quick.logOdds - a.quick.logOdds);
  const fits = new Map<ImageMap, Candidate | undefined>();
  const fitOnce = (map: ImageMap) => {
    if (!fits.has(map)) fits.set(map, fitPlacement(sight, picture, grid, map, windows));
    return fits.get(map);
  };
  let ranked: ReturnType<typeof rank> = [];
  let isSettled = false;
  for (const pair of pairs) {
    const placements = proposePlacements(pair, grid, frame, isBold)
      .filter(({ map }) => Math.abs(Math.log(aspectOf(map))) < WORST_ASPECT)
      .slice(0, 60);
    step('rows');
    const maps = placements.map((placement) => placement.map);
    // How bold the lines are, only the rows tell.
    const quick = isBold ? maps : worthwhile(rank(maps, 200), LEAST_OF_FIRST).map(({ map }) => map);
    ranked.push(...rank(quick.slice(0, 12), 600));
    ranked.sort((a, b) => b.quick.logOdds - a.quick.logOdds);
    step('rank');
    // A clear placement leaves nothing to the other families of lines. Lines of two programs do.
    if (grid.freeShare < MIDWAY || ranked.length === 0 || !isPlain(ranked[0].quick)) continue;
    const first = fitOnce(ranked[0].map);
    isSettled = first !== undefined && isClear(first);
    if (isSettled) break;
  }
  // Shifts are tried again below, and turns at the end, from the one that is clear.
  if (isSettled) ranked = worthwhile(ranked, NEARLY_FIRST);
  const fitted = ranked
    .slice(0, isBold ? FITTED_BOLD : FITTED)
    .map(({ map }) => fitOnce(map))
    .filter((candidate) => candidate !== undefined)
    .sort((a, b) => (isBetter(a, b) ? -1 : 1));
  step('fit');
  const even = isEven(grid);
  let best: Candidate | undefined;
  for (const candidate of fitted.slice(0, isBold ? 1 : RENUMBERED)) {
    const improved = even ? tryShifts(candidate, grid) : tryNumbers(candidate, grid);
    if (best === undefined || isBetter(improved, best)) best = improved;
    // Among lines of two programs, a mix of both may pass as well as the grid.
    if (best.verdict.accepted && grid.freeShare === MIDWAY) break;
  }
  step('renumber');
  return best;
}

/** Those of a ranking that may yet turn out to be the best: all of them where even the best is not plain. */
function worthwhile<T extends { readonly quick: Evidence }>(
  ranked: readonly T[],
  leastShare: number,
): T[] {
  const [best] = ranked;
  if (best === undefined || !isPlain(best.quick)) return [...ranked];
  return ranked.filter(({ quick }) => quick.logOdds >= leastShare * best.quick.logOdds);
}

/**
 * Alternates between looking for the marks, ever closer, and fitting the map to them.
 *
 * @param most marks looked at in each round.
 * @returns undefined where the marks fix no map, or one that no camera above the board sees.
 */
export function fitToMarks(
  sight: Sight,
  grid: ProgramGrid,
  start: ImageMap,
  windows: readonly number[],
  most: number,
): ImageMap | undefined {
  let map = start;
  for (const window of windows) {
    const sightings = sightMarks(sight, map, grid, window, most);
    const next = fitImageMap(map, sightings);
    if (next === undefined || !isUnmirrored(next, grid)) return undefined;
    map = next;
  }
  return map;
}

/** The placement fitted to the marks, weighed and judged. */
export function fitPlacement(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  start: ImageMap,
  windows: readonly number[] = WIDE_WINDOWS,
): Candidate | undefined {
  const map = fitToMarks(sight, grid, start, windows, MOST_UNITS);
  if (map === undefined) return undefined;
  const evidence = weighPlacement(sight, map, grid, EXACT, USUAL_RATES);
  return {
    map,
    evidence,
    sight,
    picture,
    merit: evidence.logOdds - scatterCost(map, evidence.sightings, grid),
    verdict: judgePlacement(sight, map, grid, evidence),
  };
}

/**
 * What a placement's scatter costs it, log odds up to a constant: a map bent onto the wrong unequal
 * spacings misses line by line, so each line counts as one observation.
 */
export function scatterCost(
  map: ImageMap,
  sightings: readonly LineSighting[],
  grid: ProgramGrid,
): number {
  const lines = grid.xs.length + grid.ys.length;
  return lines * Math.log(Math.max(LEAST_SCATTER_PX, scatterOf(map, sightings)));
}

/** Differences below this are sampling of the ridge field; px of the reduced picture. */
const LEAST_SCATTER_PX = 0.15;

/**
 * Unequal spacings read nearly the same shifted or the other way round, and a map bends to fit: the marks
 * seen are numbered in every such way, and the numbers with the least scatter are fitted in full.
 */
function tryNumbers(start: Candidate, grid: ProgramGrid): Candidate {
  const { sightings } = start.evidence;
  const thinned = sightings.filter((_, i) => i % Math.ceil(sightings.length / 400) === 0);
  const numbers = listTurns(start.map, grid).flatMap((turn) =>
    ALL_SHIFTS.map(([i, j]) => {
      const move = composeMoves(turn.move, shiftOf(grid, i, j));
      const fit = refitRelabelled(thinned, start.map, move, grid);
      const cost =
        fit === undefined || fit.used.length < LEAST_KEPT * thinned.length
          ? Number.POSITIVE_INFINITY
          : scatterOf(fit.map, fit.used);
      return { move, cost };
    }),
  );
  numbers.sort((a, b) => a.cost - b.cost);
  let best = start;
  for (const { move } of numbers.slice(0, 3)) {
    const candidate = renumber(start, move, grid);
    if (candidate !== undefined && isBetter(candidate, best)) best = candidate;
  }
  return best;
}

/** An index shift must lose; where it wins, it is the better start. */
function tryShifts(best: Candidate, grid: ProgramGrid): Candidate {
  let current = best;
  for (let round = 0; round < SHIFT_ROUNDS; round++) {
    const next = bestShift(current, grid);
    if (next === undefined || !isBetter(next, current)) return current;
    current = next;
  }
  return current;
}

function bestShift(current: Candidate, grid: ProgramGrid): Candidate | undefined {
  const { map, sight } = current;
  const weigh = (one: ImageMap, most: number) =>
    weighPlacement(sight, one, grid, 1.5 * EXACT, USUAL_RATES, most);
  let rivals = FAR_SHIFTS.map(([i, j]) => shiftedMap(map, grid, i, j));
  // What few marks call hopeless is not looked at again.
  for (const most of SHIFT_UNITS) {
    // Odds are compared over the same marks.
    const own = weigh(map, most);
    const weighed = rivals.map((one) => ({ one, odds: weigh(one, most).logOdds }));
    weighed.sort((p, q) => q.odds - p.odds);
    const share = HOPELESS_SHARE * Math.abs(own.logOdds);
    const short = isPlain(own) ? Math.min(HOPELESS_ODDS, share) : share;
    const least = own.logOdds - (most === SHIFT_UNITS[0] ? short : 0);
    rivals = weighed.filter(({ odds }) => odds > least).map(({ one }) => one);
    if (rivals.length === 0) return undefined;
  }
  return fitPlacement(sight, current.picture, grid, rivals[0]);
}

/** The candidate with its lines renumbered and fitted anew. */
export function renumber(
  candidate: Candidate,
  move: readonly number[],
  grid: ProgramGrid,
): Candidate | undefined {
  const map = refitRelabelled(candidate.evidence.sightings, candidate.map, move, grid)?.map;
  if (map === undefined || !isUnmirrored(map, grid)) return undefined;
  return fitPlacement(candidate.sight, candidate.picture, grid, map, NARROW_WINDOWS);
}

const SHIFT_ROUNDS = 8;
/** Marks by which shifts are compared, first all of them, then those that are near. */
const SHIFT_UNITS = [400, 2000];
/** A shift whose odds over few marks fall short by this share is none. */
const HOPELESS_SHARE = 0.3;
/** Nor is one that falls short by so much where marks are plain, whatever the share. */
const HOPELESS_ODDS = 25;
const FAR_SHIFTS = crossShifts(5);
export const NEAR_SHIFTS = crossShifts(2);
const ALL_SHIFTS = [-2, -1, 0, 1, 2].flatMap((i) => [-2, -1, 0, 1, 2].map((j) => [i, j] as const));
/** Share of the marks that must keep a line under new numbers. */
const LEAST_KEPT = 0.8;

/** Shifts by whole lines along one axis at a time. */
function crossShifts(most: number): (readonly [number, number])[] {
  const shifts: (readonly [number, number])[] = [];
  for (let k = 1; k <= most; k++) shifts.push([k, 0], [-k, 0], [0, k], [0, -k]);
  return shifts;
}
