/** Finds the program's grid in a photo: where it lies, which way round, and how sure that is. */

import type { Stroke } from '../../shared/stroke.js';
import { type Failure, failed, type GreyImage, type Outcome, success } from '../quantity/index.js';
import { findPencils, sharpenPencils } from './find-pencils.js';
import { fitImageMap } from './fit-image-map.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import { judgePlacement, type Verdict } from './judge-placement.js';
import { type Evidence, type Sight, USUAL_RATES, weighPlacement } from './lattice-evidence.js';
import { centreOnMarks, type MarkAppearance } from './mark-appearance.js';
import { aspectOf } from './placement-aspect.js';
import { listTurns, shiftedMap, type Turn } from './placement-turns.js';
import { describeGrid, type ProgramGrid } from './program-grid.js';
import { isUnmirrored, proposePlacements } from './propose-placements.js';
import { type ReducedImage, reduceImage } from './reduce-image.js';
import { computeRidgeField, mapRidges, type RidgeField } from './ridge-field.js';
import { linkSegments } from './ridge-segments.js';

/** Another placement that explains the picture nearly as well. */
export interface RivalPlacement {
  readonly map: ImageMap;
  /** Turn of the program against the returned placement, counter-clockwise on the board. */
  readonly rotationDeg: 90 | 180 | 270;
  /** Log odds of the returned placement against this one; near 0: nothing tells them apart. */
  readonly evidence: number;
}

export interface LatticeFit {
  /** Commanded mm to sensor px of the full-size picture. */
  readonly map: ImageMap;
  /** Share of the predicted stroke length, inside the picture, that shows a mark; 0..1. */
  readonly shareFound: number;
  readonly polarity: MarkAppearance['polarity'];
  /** Full width at half depth of the averaged mark; px. */
  readonly markWidthPx: number;
  readonly rivals: readonly RivalPlacement[];
  /** True only where no rival is left. */
  readonly certain: boolean;
  /** Share of places midway between lines that look marked: texture that passes for marks. */
  readonly shareBetween: number;
  /** Scatter of the marks about the map, across the lines; full-size px. */
  readonly scatterPx: number;
  /** Share of the predicted strokes that lie inside the picture. */
  readonly shareInPicture: number;
  /** Seen height-to-width ratio of a commanded square, were the camera plain; 1 where it fits. */
  readonly aspect: number;
  /** Gap between neighbouring lines in the middle of the grid; full-size px. */
  readonly pitchPx: number;
}

export interface FindLatticeOptions {
  /** Longest sides at which to search, in this order; px. */
  readonly sidesPx?: readonly number[];
  /** Told how long each step took. */
  readonly onStep?: (step: string, ms: number) => void;
}

/**
 * First size: noise averaged away, gaps of 80 lines still wide enough. Then coarser for broad grooves,
 * then finer for hairlines.
 */
const SIDES_PX = [1400, 700, 2400];
/** Placements fitted in full after the quick ranking. */
const FITTED = 5;
/**
 * Marks of the fitted grid lie this close to their places, as share of the gap; frames, board edges and
 * grain mostly do not. A page that curls by a twentieth of a gap still passes.
 */
const EXACT = 0.07;
/** Log odds below which two placements are not told apart (about 1 in 1000). */
const CLEAR_ODDS = 7;
/**
 * A program's pitches may be given wrongly by some per cent and a tilted view tells the ratio to about a
 * tenth; a placement that needs this much (log of the ratio) is another grid.
 */
const WORST_ASPECT = 0.4;
/** A turn is ruled out by its shape where it needs pixels this much less square (log of the ratio). */
const CLEAR_ASPECT = 0.12;

interface Candidate {
  readonly map: ImageMap;
  readonly evidence: Evidence;
  readonly verdict: Verdict;
  readonly sight: Sight;
  readonly picture: ReducedImage;
}

/**
 * @param grey the photo, sensor frame; 0.3 to 100 megapixels.
 * @param strokes what the program commanded; mm.
 * Fails: PROGRAM_NO_GRID; GRID_NOT_FOUND; GRID_AMBIGUOUS; PHOTO_BLURRED.
 */
export async function findLattice(
  grey: GreyImage,
  strokes: readonly Stroke[],
  options: FindLatticeOptions = {},
): Promise<Outcome<LatticeFit>> {
  const grid = describeGrid(strokes);
  if (grid === undefined) {
    return failed('PROGRAM_NO_GRID', 'the strokes form no grid of at least 4 lines along X and Y');
  }
  const step = stepClock(options.onStep);
  let best: Candidate | undefined;
  let tried = 0;
  const reasons = new Set<string>();
  const attempts = listAttempts(grey, options.sidesPx ?? SIDES_PX);
  const scenes = new Map<number, Scene>();
  for (const [side, sign] of attempts) {
    const scene = scenes.get(side) ?? prepareScene(grey, side, step);
    scenes.set(side, scene);
    const found = searchOnce({ field: scene.field, sign }, scene.picture, grid, step);
    tried++;
    step(`attempt ${side} ${sign}: ${found?.verdict.reason ?? 'none'} ${found?.evidence.share}`);
    const reason = found?.verdict.accepted === false ? found.verdict.reason : undefined;
    if (found !== undefined && (best === undefined || better(found, best))) best = found;
    if (best?.verdict.accepted && best.evidence.share > 0.5) break;
    // Two sizes that see the same other grid settle it.
    if (reason?.includes('×') && found !== undefined && found.evidence.share > 0.6) {
      if (reasons.has(reason)) break;
      reasons.add(reason);
    }
    // Others on the event loop get their turn between attempts.
    await new Promise((resolve) => setImmediate(resolve));
  }
  if (best === undefined) return notFound(grey, 'no two crossing families of lines', tried);
  if (!best.verdict.accepted) return notFound(grey, best.verdict.reason, tried, best);
  return finish(grey, grid, best, step);
}

/** Dark marks are the usual ones: two sizes before the first look for bright ones. */
function listAttempts(grey: GreyImage, sides: readonly number[]): [number, 1 | -1][] {
  const longest = Math.max(grey.width, grey.height);
  const sizes = sides.map((side) => Math.min(side, longest));
  const [first, second, ...rest] = sizes.filter((side, i) => sizes.indexOf(side) === i);
  const attempts: [number, 1 | -1][] = [];
  const early = second === undefined ? [first] : [first, second];
  for (const sign of [1, -1] as const) for (const side of early) attempts.push([side, sign]);
  for (const side of rest) attempts.push([side, 1], [side, -1]);
  return attempts;
}

interface Scene {
  readonly picture: ReducedImage;
  readonly field: RidgeField;
}

function prepareScene(grey: GreyImage, side: number, step: (name: string) => void): Scene {
  const picture = reduceImage(grey, side);
  step('reduce');
  const field = computeRidgeField(picture);
  step('ridge field');
  return { picture, field };
}

function better(a: Candidate, b: Candidate): boolean {
  if (a.verdict.accepted !== b.verdict.accepted) return a.verdict.accepted;
  return a.evidence.logOdds > b.evidence.logOdds;
}

function searchOnce(
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
    if (candidate !== undefined && (best === undefined || better(candidate, best))) {
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
    verdict: judgeShape(map) ?? judgePlacement(sight, map, grid, evidence),
  };
}

function judgeShape(map: ImageMap): Verdict | undefined {
  const aspect = aspectOf(map);
  if (Math.abs(Math.log(aspect)) < WORST_ASPECT) return undefined;
  return {
    accepted: false,
    reason: `lines seen, but their spacings along Y and X are in another ratio (${aspect.toFixed(2)} of the program's)`,
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
    if (fitted === undefined || !better(fitted, current)) return current;
    current = fitted;
  }
  return current;
}

const SHIFT_ROUNDS = 8;
const FAR_SHIFTS = crossShifts(5);
const NEAR_SHIFTS = crossShifts(2);

/** Shifts by whole lines along one axis at a time. */
function crossShifts(most: number): (readonly [number, number])[] {
  const shifts: (readonly [number, number])[] = [];
  for (let k = 1; k <= most; k++) shifts.push([k, 0], [-k, 0], [0, k], [0, -k]);
  return shifts;
}

function finish(
  grey: GreyImage,
  grid: ProgramGrid,
  found: Candidate,
  step: (name: string) => void,
): Outcome<LatticeFit> {
  const { evidence, sight } = found;
  const rates = {
    on: Math.min(0.97, Math.max(0.3, evidence.share)),
    off: Math.min(0.5, Math.max(0.03, Math.max(...evidence.betweenShare))),
  };
  const most = Number.POSITIVE_INFINITY;
  const own = weighPlacement(sight, found.map, grid, EXACT, rates);
  for (const [i, j] of NEAR_SHIFTS) {
    const other = weighPlacement(
      sight,
      shiftedMap(found.map, grid, i, j),
      grid,
      EXACT,
      rates,
      most,
      own.limits,
    );
    if (own.logOdds - other.logOdds < CLEAR_ODDS && other.inPicture > 0.5 * own.inPicture) {
      return failed(
        'GRID_AMBIGUOUS',
        `the grid fits as well ${i || j} line(s) further along ${i === 0 ? 'Y' : 'X'}`,
        {
          hint: 'let the photo show the whole grid with its outer lines uncovered',
          figures: { logOdds: own.logOdds - other.logOdds },
        },
      );
    }
  }
  const turns = listTurns(found.map, grid).map((turn) => ({
    turn,
    logOdds: weighPlacement(sight, turn.map, grid, EXACT, rates, most, own.limits).ownOdds,
    misshape: Math.abs(Math.log(aspectOf(turn.map))),
  }));
  const { chosen, rivals } = chooseTurn(turns);
  step('turns');
  const full = fullSizeMap(chosen.map, found.picture);
  const { map, appearance } = centreOnMarks(grey, full, grid);
  step('appearance');
  return success({
    map,
    shareFound: own.share,
    polarity: appearance.polarity,
    markWidthPx: appearance.widthPx,
    rivals: rivals.flatMap((rival) => {
      const turned = listTurns(map, grid).find((turn) => turn.rotationDeg === rival.rotationDeg);
      return turned === undefined ? [] : [{ ...rival, map: turned.map }];
    }),
    certain: rivals.length === 0,
    shareBetween: (own.betweenShare[0] + own.betweenShare[1]) / 2,
    scatterPx: scatterOf(found) * found.picture.factor,
    shareInPicture: own.inPicture,
    aspect: aspectOf(chosen.map),
    pitchPx: pitchOf(map, grid),
  });
}

function chooseTurn(turns: readonly { turn: Turn; logOdds: number; misshape: number }[]): {
  chosen: Turn;
  rivals: { map: ImageMap; rotationDeg: 90 | 180 | 270; evidence: number }[];
} {
  // Shape speaks only where it speaks clearly; marks that break the symmetry speak first.
  const squarest = Math.min(...turns.map((t) => t.misshape));
  const shapely = turns.filter((t) => t.misshape - squarest < CLEAR_ASPECT);
  const top = Math.max(...shapely.map((t) => t.logOdds));
  const near = shapely.filter((t) => top - t.logOdds < CLEAR_ODDS);
  near.sort((a, b) => Math.round(a.misshape - b.misshape) || b.logOdds - a.logOdds);
  const chosen = near.reduce((a, b) => {
    if (Math.abs(a.logOdds - b.logOdds) > 1) return a.logOdds > b.logOdds ? a : b;
    return b.misshape < a.misshape - 0.01 ? b : a;
  });
  const rivals = near
    .filter((t) => t !== chosen)
    .map((t) => ({
      map: t.turn.map,
      rotationDeg: ((((t.turn.rotationDeg - chosen.turn.rotationDeg) % 360) + 360) % 360) as
        | 90
        | 180
        | 270,
      evidence: chosen.logOdds - t.logOdds,
    }));
  return { chosen: chosen.turn, rivals };
}

/** full = (reduced + 0.5)·factor - 0.5. */
function fullSizeMap(map: ImageMap, picture: ReducedImage): ImageMap {
  const f = picture.factor;
  const shift = (f - 1) / 2;
  const h = map.homography;
  const homography = Float64Array.from(h, (value, i) =>
    i < 6 ? f * value + shift * h[6 + (i % 3)] : value,
  );
  return {
    homography,
    centrePx: [f * map.centrePx[0] + shift, f * map.centrePx[1] + shift],
    radiusPx: f * map.radiusPx,
    k1: map.k1,
    k2: map.k2,
  };
}

function scatterOf(found: Candidate): number {
  const off = found.evidence.sightings.map((s) => {
    const [u, v] = imageFromCommanded(found.map, s.xMm, s.yMm);
    return Math.abs((s.uPx - u) * s.normalU + (s.vPx - v) * s.normalV);
  });
  off.sort((a, b) => a - b);
  // 1.4826: median absolute deviation to standard deviation of a normal scatter.
  return 1.4826 * (off[off.length >> 1] ?? 0);
}

function pitchOf(map: ImageMap, grid: ProgramGrid): number {
  const x = (grid.xs[0] + grid.xs[grid.xs.length - 1]) / 2;
  const y = (grid.ys[0] + grid.ys[grid.ys.length - 1]) / 2;
  const at = imageFromCommanded(map, x, y);
  const right = imageFromCommanded(map, x + grid.pitchMm[0], y);
  const up = imageFromCommanded(map, x, y + grid.pitchMm[1]);
  return Math.min(
    Math.hypot(right[0] - at[0], right[1] - at[1]),
    Math.hypot(up[0] - at[0], up[1] - at[1]),
  );
}

function notFound(
  grey: GreyImage,
  reason: string,
  attempts: number,
  best?: Candidate,
): { readonly ok: false; readonly failure: Failure } {
  const blur = edgeWidth(grey);
  if (blur > BLURRED_PX) {
    return failed(
      'PHOTO_BLURRED',
      'the sharpest edges of the photo are too wide to show thin lines',
      {
        hint: 'hold the camera still, focus on the board, use more light',
        figures: { edgeWidthPx: blur },
      },
    );
  }
  return failed('GRID_NOT_FOUND', `the grid of the program was not found: ${reason}`, {
    hint: 'photograph the whole grid from above; check that the program is the one that marked it',
    figures: {
      attempts,
      ...(best === undefined
        ? {}
        : {
            shareFound: best.evidence.share,
            shareBetween: Math.max(...best.evidence.betweenShare),
          }),
    },
  });
}

/** Edges of a usable photo are two or three px wide; twelve leave nothing of a thin line. */
const BLURRED_PX = 12;

/** Width of the steepest edges: their height over eight px against their steepest px. */
function edgeWidth(grey: GreyImage): number {
  const near: number[] = [];
  const far: number[] = [];
  const rowStep = Math.max(1, Math.floor(grey.height / 300));
  for (let v = 0; v < grey.height; v += rowStep) {
    for (let u = 16; u < grey.width - 16; u += 3) {
      const i = v * grey.width + u;
      near.push(Math.abs(grey.data[i + 1] - grey.data[i - 1]) / 2);
      far.push(Math.abs(grey.data[i + 16] - grey.data[i - 16]));
    }
  }
  const high = (values: number[]) =>
    Float64Array.from(values).sort()[Math.floor(0.998 * (values.length - 1))] ?? 0;
  const steepest = high(near);
  return steepest === 0 ? 0 : high(far) / steepest;
}

function stepClock(onStep: FindLatticeOptions['onStep']): (name: string) => void {
  if (onStep === undefined) return () => undefined;
  let last = performance.now();
  return (name) => {
    const now = performance.now();
    onStep(name, now - last);
    last = now;
  };
}
