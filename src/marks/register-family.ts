/**
 * Second pass: profile and registrations of one family of marks in turn, until both agree; segments
 * and pieces of segments that do not show the mark are told apart.
 */

import { drawEvenly, median, robustSigma } from '../numerics/index.js';
import type { GreyImage } from '../quantity/index.js';
import { measureBackground } from './background-noise.js';
import { chooseForFirstProfile } from './first-profile.js';
import { gatherStrip, type Strip } from './gather-strip.js';
import { findBadPieces, isMostlyOut } from './judge-pieces.js';
import { CurveFit, curveAt, describeCurve, type MarkCurve, type MarkShape } from './mark-curve.js';
import type { SegmentPlace } from './place-segments.js';
import { keepTest, RegisterRoom, type Registration, registerSegment } from './register-segment.js';
import { measureRowLevels, type RowLevels } from './row-levels.js';
import { binSegment, weighShift } from './weigh-shift.js';

export interface RegisteredSegment {
  readonly place: SegmentPlace;
  readonly registration: Registration;
  /** Middle of the mark from the predicted curve, along the normal; px. */
  readonly offsetPx: number;
  /** By which the grain beside the marks moves it, and its standard uncertainty in that grain; px. */
  readonly stepPx: number;
  readonly formalPx: number;
}

export interface RegisteredFamily {
  readonly segments: readonly RegisteredSegment[];
  readonly shape: MarkShape;
  /** Depth of the mark, share of the background's grey, the usual segment's. */
  readonly contrast: number;
  readonly covered: number;
  readonly unlike: number;
}

/** Background kept on either side of the mark; px. */
const BESIDE_PX = 4.5;
/** Room for the mark to lie off the prediction without the window losing its background; px. */
const PLAY_PX = 2;
/** Background for wide marks: their edges and fringes are wide as well; share of their half-width. */
const BESIDE_SHARE = 1;
const NARROWEST_PX = 2;
/** Kept between a crossing mark's fringe and the strip; px. */
const CROSSING_PX = 1;
/** Cut off either end at most; share of the length. */
const MOST_TRIMMED = 0.3;
/** Rounds of profile and registration; the figures of the fourth stand still to 0.001 px. */
const ROUNDS = 4;
/** The last rounds take in all segments, those before so many at most: enough for all phases of the pixel grid. */
const FULL_ROUNDS = 2;
const MOST_LEARNED_FROM = 200;
/** Steps of a registration in one round: the first time that a segment takes part, and later. */
const FIRST_STEPS = 4;
const LATER_STEPS = 2;
/** A step smaller than this ends a registration: while the profile still changes, and at last; px. */
const SETTLING_PX = 0.01;
const SETTLED_PX = 0.002;
/** Depth, against the family's usual one, outside which a segment shows something else. */
const SHALLOWEST = 0.4;
const DEEPEST = 2.5;
/** Pixels scatter about the model by this many times the family's usual scatter at most. */
const ROUGHEST = 3;
/** A grey value's rounding. */
const LEAST_NOISE = 0.3;
/** A mark that is not this many times deeper than its own uncertainty is none. */
const LEAST_SIGNIFICANCE = 6;
/** Segments with fewer pixels than this are not worth their noise. */
const FEWEST_PIXELS = 24;
const FEWEST_SEGMENTS = 4;
/**
 * What is left of a segment's profile, against the family's usual, below which nothing is called unlike: at the far
 * corner of a board seen aslant, clear marks reach 3.
 */
const LEAST_MISFIT = 4;
/** By chance it differs by this factor: some ten bins hold it. */
const USUAL_SPREAD = 1.3;

interface Work {
  readonly place: SegmentPlace;
  readonly strip: Strip;
  /** The family's usual scale over the segment's: its px times this are the profile's. */
  readonly stretch: number;
  /** Half-window about the mark; px. */
  readonly halfPx: number;
  state: Registration;
  status: 'used' | 'covered' | 'unlike';
  leftOut: boolean[] | undefined;
  rowLevels: RowLevels;
  /** No registration was found. */
  isLost: boolean;
}

/**
 * @param places those of one family, predicted to within about a pixel.
 * @param starts where the first pass saw the mark against these predictions, by segment id; px.
 * Segments without one take part, but have no say until they show the mark.
 * @param halfMarkPx half-width of the mark with its fringes, from the first pass.
 * @returns undefined where too few segments show a common mark.
 */
export function registerFamily(
  grey: GreyImage,
  places: readonly SegmentPlace[],
  starts: ReadonlyMap<number, number>,
  halfMarkPx: number,
): RegisteredFamily | undefined {
  const scale = median(places.map((p) => p.pxPerMm));
  const work = places.flatMap((place) => {
    const item = prepare(grey, place, scale / place.pxPerMm, halfMarkPx);
    if (item === undefined) return [];
    const shiftPx = starts.get(place.segment.id);
    if (shiftPx === undefined) item.status = 'covered';
    else item.state = { ...item.state, shiftPx };
    return [item];
  });
  const learners = drawEvenly(usedOf(work), MOST_LEARNED_FROM);

  let curve: MarkCurve | undefined;
  for (let round = 0; round < ROUNDS; round++) {
    const taking = round < ROUNDS - FULL_ROUNDS ? learners : work;
    // In the first round with all segments the learners are still the only ones whose places are known well.
    const known = usedOf(round <= ROUNDS - FULL_ROUNDS ? learners : work);
    if (known.length < FEWEST_SEGMENTS) return undefined;
    // Read beside the marks, they change little from one round to the next.
    for (const item of round % 2 === 0 ? taking : []) {
      item.rowLevels = measureRowLevels(item.strip, item.state, halfMarkPx / item.stretch);
    }
    curve = round === 0 ? firstCurve(known, work) : fitCurve(known, false);
    if (curve === undefined) return undefined;
    registerAll(taking, curve, round < ROUNDS - 1 ? SETTLING_PX : SETTLED_PX);
    judgeSegments(taking);
    if (round === ROUNDS - 2) findBadPieces(usedOf(work), curve);
  }
  const used = usedOf(work);
  if (curve === undefined || used.length < FEWEST_SEGMENTS) return undefined;
  const shape = describeCurve(curve);
  const segments = weighAll(used, curve, halfMarkPx).flatMap(({ item, stepPx, formalPx }) => {
    const { place, state, stretch } = item;
    const offsetPx = state.shiftPx + shape.middlePx / stretch;
    return item.status === 'unlike'
      ? []
      : [{ place, registration: state, offsetPx, stepPx, formalPx }];
  });
  if (segments.length < FEWEST_SEGMENTS) return undefined;
  return {
    segments,
    shape,
    contrast: median(usedOf(work).map((item) => item.state.depth)),
    covered: work.filter((item) => item.status === 'covered').length,
    unlike: work.filter((item) => item.status === 'unlike').length,
  };
}

/** The strip of a segment, cut back where the crossing marks are wider than their clearance. */
function prepare(
  grey: GreyImage,
  place: SegmentPlace,
  stretch: number,
  halfMarkPx: number,
): Work | undefined {
  const ownHalfPx = halfMarkPx / stretch;
  const halfPx = Math.min(
    ownHalfPx + Math.max(BESIDE_PX, BESIDE_SHARE * ownHalfPx),
    place.reachPx - PLAY_PX,
  );
  if (halfPx < NARROWEST_PX) return undefined;
  const wanted = ownHalfPx + CROSSING_PX - place.clearPx;
  const trimPx = Math.min(MOST_TRIMMED * place.lengthPx, Math.max(0, wanted));
  const strip = gatherStrip(grey, place, halfPx + PLAY_PX, trimPx);
  if (strip === undefined || strip.value.length < FEWEST_PIXELS) return undefined;
  const state = startState(strip, ownHalfPx);
  return {
    place,
    strip,
    stretch,
    halfPx,
    state,
    status: 'used',
    leftOut: undefined,
    rowLevels: undefined,
    isLost: false,
  };
}

/** Background from what lies beside the mark; a depth of 1, the profile's own, for the first curve. */
function startState(strip: Strip, halfMarkPx: number): Registration {
  const { across, value } = strip;
  const outside = new Uint32Array(256);
  for (let i = 0; i < value.length; i++) {
    if (Math.abs(across[i]) > halfMarkPx) outside[value[i]]++;
  }
  const level = Math.max(1, medianOfCounts(outside) ?? median(value));
  return {
    shiftPx: 0,
    depth: 1,
    level,
    across: 0,
    along: 0,
    formalPx: 0,
    noise: Number.NaN,
    rms: Number.NaN,
  };
}

/** Median of grey values of which there are so many each; undefined where there are none. */
function medianOfCounts(counts: Uint32Array): number | undefined {
  let total = 0;
  for (let grey = 0; grey < counts.length; grey++) total += counts[grey];
  if (total === 0) return undefined;
  const at = (rank: number) => {
    let grey = 0;
    for (let below = counts[0]; below <= rank; below += counts[grey]) grey++;
    return grey;
  };
  const middle = total >> 1;
  return total % 2 === 1 ? at(middle) : (at(middle - 1) + at(middle)) / 2;
}

function usedOf(work: readonly Work[]): readonly Work[] {
  return work.filter((item) => item.status === 'used');
}

/**
 * Before anything is known of a segment but its place.
 *
 * @param all are moved onto the middle of the mark, about which windows are laid: only now it is known.
 */
function firstCurve(known: readonly Work[], all: readonly Work[]): MarkCurve | undefined {
  const widest = Math.max(...known.map((item) => item.halfPx * item.stretch));
  const chosen = chooseForFirstProfile(known, widest);
  const first = known.filter((_, i) => chosen[i]);
  const rough = fitCurve(first, true);
  if (rough === undefined) return undefined;
  const { middlePx } = describeCurve(rough);
  for (const item of all) {
    item.state = { ...item.state, shiftPx: item.state.shiftPx + middlePx / item.stretch };
  }
  return fitCurve(first, true);
}

/** The first time every segment has the same say; later by its depth against all that it departs by: an edge of a cover too. */
function fitCurve(work: readonly Work[], isFirst: boolean): MarkCurve | undefined {
  const widest = Math.max(...work.map((item) => item.halfPx * item.stretch));
  const fit = new CurveFit(widest);
  for (const { strip, state, stretch, halfPx, leftOut, rowLevels } of work) {
    const say = isFirst ? 1 : ((state.depth * state.level) / Math.max(1, state.rms)) ** 2;
    fit.add(strip, state, rowLevels, { stretch, halfPx }, say, keepTest(strip, leftOut));
  }
  return fit.solve();
}

function registerAll(work: readonly Work[], curve: MarkCurve, settledPx: number): void {
  const room = new RegisterRoom();
  for (const item of work) {
    if (item.isLost) continue;
    const { strip, stretch, halfPx, leftOut, rowLevels } = item;
    const isNew = item.state.formalPx === 0;
    const start = isNew ? { ...item.state, depth: startDepth(item, curve) } : item.state;
    const options = {
      stretch,
      halfPx,
      rounds: isNew ? FIRST_STEPS : LATER_STEPS,
      settledPx,
      ...(leftOut === undefined ? {} : { leftOut }),
      ...(rowLevels === undefined ? {} : { rowLevels }),
    };
    const state = registerSegment(strip, curve, start, options, room);
    if (state === undefined) item.isLost = true;
    else item.state = state;
  }
}

/**
 * Each segment's shift in the noise of the family's background; the registration's own where that fails.
 * What departs from the family's profile by far more than the others do is marked unlike (a scratch beside the
 * mark, a stain's edge on it moved it by tenths of a px), what departs by somewhat more is less certain.
 */
function weighAll(
  work: readonly Work[],
  curve: MarkCurve,
  halfMarkPx: number,
): { item: Work; stepPx: number; formalPx: number }[] {
  const binned = work.map(({ strip, state, stretch, halfPx, leftOut, rowLevels }) =>
    binSegment(strip, curve, state, { stretch, halfPx, leftOut, rowLevels }),
  );
  const noise = measureBackground(binned, halfMarkPx);
  const all = binned.map((segment) =>
    noise === undefined ? undefined : weighShift(segment, noise),
  );
  const misfits = all.flatMap((weighed) => (weighed === undefined ? [] : [weighed.misfit]));
  const usual = misfits.length > 0 ? Math.max(1, median(misfits)) : 1;
  const logs = misfits.map((misfit) => Math.log(Math.max(1, misfit / usual)));
  const limit = misfits.length > 0 ? Math.max(LEAST_MISFIT, Math.exp(4 * robustSigma(logs))) : 1;
  return work.map((item, i) => {
    const weighed = all[i];
    if (weighed === undefined) return { item, stepPx: 0, formalPx: item.state.formalPx };
    const excess = weighed.misfit / usual;
    if (excess > limit) item.status = 'unlike';
    return {
      item,
      stepPx: weighed.stepPx,
      formalPx: weighed.formalPx * Math.max(1, excess / USUAL_SPREAD),
    };
  });
}

/** Regression of the pixels on the profile at the starting place. */
function startDepth({ strip, stretch, state }: Work, curve: MarkCurve): number {
  let products = 0;
  let squares = 0;
  for (let i = 0; i < strip.value.length; i++) {
    const p = curveAt(curve, stretch * (strip.across[i] - state.shiftPx));
    products += p * (strip.value[i] / state.level - 1);
    squares += p * p;
  }
  return Math.max(0.01, products / squares);
}

/** Anew in every round: what looked unlike the first blurred profile may suit the last one well. */
function judgeSegments(work: readonly Work[]): void {
  const used = work.filter((item) => item.status === 'used' && !item.isLost);
  for (const item of work) if (item.isLost) item.status = 'covered';
  if (used.length === 0) return;
  const depth = median(used.map((item) => item.state.depth));
  const logs = used.map((item) => Math.log(item.state.depth / depth));
  // Light that rakes or a burn that fades spreads the depths; they stay one family.
  const spread = 4 * robustSigma(logs);
  const noise = median(used.map((item) => item.state.noise));
  for (const item of work) {
    const { state } = item;
    const log = Math.log(state.depth / depth);
    if (item.isLost) continue;
    if (isMostlyOut(item)) item.status = 'covered';
    else if (log < Math.min(Math.log(SHALLOWEST), -spread)) item.status = 'covered';
    else if (significance(item) < LEAST_SIGNIFICANCE) item.status = 'covered';
    else if (log > Math.max(Math.log(DEEPEST), spread)) item.status = 'unlike';
    else if (state.noise > ROUGHEST * Math.max(LEAST_NOISE, noise) || !(state.formalPx > 0))
      item.status = 'unlike';
    else item.status = 'used';
  }
}

/** Depth over its uncertainty, by the pixels within a px of the middle. */
function significance({ state, strip, halfPx }: Work): number {
  const within = strip.value.length * Math.min(1, 1 / (halfPx + PLAY_PX));
  return (state.depth * state.level * Math.sqrt(within)) / Math.max(LEAST_NOISE, state.noise);
}
