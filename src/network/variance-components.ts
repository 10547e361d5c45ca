/**
 * The sizes of all noise and of all that varies along a travel, estimated; and what lies outside them, taken
 * out.
 *
 * Sources: Förstner, Ein Verfahren zur Schätzung von Varianz- und Kovarianzkomponenten (1979), for
 * the components; Baarda, A testing procedure for use in geodetic networks (1968), for the residuals.
 */

import { robustSigma } from '../numerics/index.js';
import { BOARD_SIZE } from './board-surface.js';
import { WANDER_SIZE } from './camera-model.js';
import { HELD, isMarksKnown, type Network, type NetworkState } from './network.js';
import type { Solved } from './network-equations.js';
import { isMeasuredOnBoard, type NetworkInput } from './network-input.js';
import { WARP_GROUPS } from './picture-warp.js';
import type { ResidualQuality } from './residual-quality.js';
import type { Stochastic } from './stochastic.js';

/**
 * Critical value of a normalised residual: one false alarm in 15 000. Baarda's usual 3.29 would drop
 * seven good observations of a set of eight photos.
 */
export const CRITICAL = 4;
/** Below this share of its own the photos say nothing of a focal length. */
export const LEAST_FREEDOM = 0.02;
/** Robust weights fall to a half here, in standard deviations. */
const ROBUST_SCALE = 3;
/** First guess of the edges' wander on the board, mm. */
const SIGMA_MARK_START_MM = 0.03;
/** No mark is better than this, mm: keeps the component from collapsing on a handful of segments. */
const SIGMA_MARK_LEAST_MM = 0.001;
/** Estimated sizes of shapes stay within this factor of the first guess: a few coefficients say little. */
const SHAPE_SIZE_RANGE = 8;
/** No board is trusted to be flatter than 0.1 mm. */
const BOARD_SIZE_RANGE = 5;
/** A photo's factor is not taken below this: the given standard deviations come from its own scatter. */
const LEAST_FACTOR = 0.1;
/** The common factor of points whose stated standard deviations are weights only, as 1 for all of them. */
const LEAST_COMMON_FACTOR = 1e-6;

export function startStochastic(input: NetworkInput): Stochastic {
  const sigmaPx = Float64Array.from(input.observations, (o) => o.sigmaPx);
  const sigmaMarkMm = isMarksKnown(input) ? HELD : SIGMA_MARK_START_MM;
  return {
    sigmaPx,
    keep: new Float64Array(sigmaPx.length).fill(1),
    // The last one is for what was measured without a photo: its uncertainty is stated, and stands.
    photoFactor: new Float64Array(input.photos.length + 1).fill(1),
    sigmaMarkMm: new Float64Array(input.placements.length).fill(sigmaMarkMm),
    markLikeness: new Float64Array(input.placements.length).fill(1),
    keepSegment: new Float64Array(input.segments.length).fill(1),
  };
}

/** Parameters whose common size is estimated: shapes of guides, yaw, progression, single lines, board. */
export function shapeGroups(network: Network): number[][] {
  const { machine } = network;
  const { straightnessX, straightnessY, progressionX, progressionY, yaw, lineX, lineY } =
    machine.index;
  const { rungX, rungY } = machine.index;
  const endOfRungs = rungY + (machine.layout.rungsAtY?.length ?? 0);
  const range = (from: number, to: number) => Array.from({ length: to - from }, (_, k) => from + k);
  // The first yaw term is a difference of scale between the gantry's sides, no bend.
  const ofMachine = [
    straightnessX,
    straightnessY,
    progressionX,
    progressionY,
    yaw.slice(1),
    // A rung strays from the smooth course as a line does.
    [...range(lineX, lineY), ...range(rungX, rungY)],
    [...range(lineY, rungX), ...range(rungY, endOfRungs)],
  ].map((group) => [...new Set(network.machineAt.flatMap((at) => group.map((term) => at[term])))]);
  return [
    ...ofMachine,
    range(network.boardAt, network.boardAt + BOARD_SIZE),
    ...network.warpAt.flatMap((at) => WARP_GROUPS.map((group) => group.map((k) => at + k))),
  ].filter((group) => group.length > 0);
}

/** Geman-McClure-like weights while the components are still unknown; first the scales, robustly. */
export function softenWeights(
  input: NetworkInput,
  stochastic: Stochastic,
  quality: ResidualQuality,
): boolean {
  const { residualPx, offsetsMm } = quality;
  const { sigmaPx, photoFactor, keep, keepSegment } = stochastic;
  const scale = robustSigma(
    residualPx
      .map((v, i) => v / (sigmaPx[i] * photoFactor[0]))
      .filter((_, i) => !isMeasuredOnBoard(input, input.observations[i])),
  );
  const unit = Math.max(LEAST_FACTOR, scale) * photoFactor[0];
  for (let i = 0; i < keep.length; i++) {
    // A mark measured on the board is seen once: whether it lies elsewhere its offset tells.
    if (isMeasuredOnBoard(input, input.observations[i])) continue;
    keep[i] = 1 / (1 + (residualPx[i] / (ROBUST_SCALE * unit * sigmaPx[i])) ** 2) ** 2;
  }
  const spread = Math.max(SIGMA_MARK_LEAST_MM, robustSigma(offsetsMm));
  for (let j = 0; j < keepSegment.length; j++) {
    keepSegment[j] = 1 / (1 + (offsetsMm[j] / (2 * ROBUST_SCALE * spread)) ** 2) ** 2;
  }
  keepPointsWhole(input, keepSegment);
  return true;
}

/** A point that lies elsewhere in one coordinate has no say in the other either. */
function keepPointsWhole(input: NetworkInput, keepSegment: Float64Array): void {
  for (const [j, { pair }] of input.segments.entries()) {
    if (pair === undefined) continue;
    keepSegment[j] = keepSegment[pair] = Math.min(keepSegment[j], keepSegment[pair]);
  }
}

export function testOutliers(
  input: NetworkInput,
  stochastic: Stochastic,
  quality: ResidualQuality,
): boolean {
  const { residualPx, redundancy, offsetsMm, offsetRedundancy } = quality;
  const { sigmaPx, photoFactor, keep, keepSegment, sigmaMarkMm } = stochastic;
  let changed = false;
  const set = (list: Float64Array, at: number, good: boolean) => {
    if (list[at] !== (good ? 1 : 0)) changed = true;
    list[at] = good ? 1 : 0;
  };
  for (let i = 0; i < keep.length; i++) {
    if (isMeasuredOnBoard(input, input.observations[i])) continue;
    const sigma = sigmaPx[i] * photoFactor[input.observations[i].photo];
    // An observation already out has redundancy 1: the others foretell it.
    const r = keep[i] === 0 ? 1 : Math.max(1e-3, redundancy[i]);
    set(keep, i, Math.abs(residualPx[i]) <= CRITICAL * sigma * Math.sqrt(r));
  }
  for (let j = 0; j < keepSegment.length; j++) {
    const sigma = sigmaMarkMm[input.segments[j].placement];
    const r = Math.max(1e-3, offsetRedundancy[j]);
    // Outlying marks keep no weight, so their offset is not estimated again: once out, out.
    if (keepSegment[j] === 0) continue;
    set(keepSegment, j, Math.abs(offsetsMm[j]) <= CRITICAL * sigma * Math.sqrt(r));
  }
  keepPointsWhole(input, keepSegment);
  return changed;
}

/** Förstner's estimate of every component: Σ v² w / Σ redundancy. @returns largest relative change. */
export function updateComponents(
  network: Network,
  stochastic: Stochastic,
  quality: ResidualQuality,
  shapes: readonly number[][],
  state: NetworkState,
  solved: Solved,
): number {
  const { input, table } = network;
  const { sigmaPx, photoFactor, keep, keepSegment, sigmaMarkMm } = stochastic;
  let change = 0;
  const photos = input.photos.map(() => ({ square: 0, redundancy: 0 }));
  for (let i = 0; i < keep.length; i++) {
    const seen = input.observations[i];
    const weight = keep[i] * keepSegment[seen.segment];
    if (weight === 0 || isMeasuredOnBoard(input, seen)) continue;
    const sum = photos[seen.photo];
    sum.square += weight * (quality.residualPx[i] / sigmaPx[i]) ** 2;
    sum.redundancy += weight * quality.redundancy[i];
  }
  if (input.beliefs?.commonVariance === true) {
    const all = { square: 0, redundancy: 0 };
    for (const { square, redundancy } of photos) {
      all.square += square;
      all.redundancy += redundancy;
    }
    photos.fill(all);
  }
  photos.forEach(({ square, redundancy }, k) => {
    if (redundancy < 5) return;
    const least = input.beliefs?.commonVariance === true ? LEAST_COMMON_FACTOR : LEAST_FACTOR;
    const factor = Math.max(least, Math.sqrt(square / redundancy));
    change = Math.max(change, Math.abs(Math.log(factor / photoFactor[k])));
    photoFactor[k] = factor;
  });

  const marks = input.placements.map(() => ({ square: 0, redundancy: 0 }));
  for (let j = 0; j < keepSegment.length; j++) {
    const sum = marks[input.segments[j].placement];
    sum.square += keepSegment[j] * quality.offsetsMm[j] ** 2;
    sum.redundancy += keepSegment[j] * quality.offsetRedundancy[j];
  }
  marks.forEach(({ square, redundancy }, k) => {
    if (redundancy < 5 || isMarksKnown(input)) return;
    const sigma = Math.max(SIGMA_MARK_LEAST_MM, Math.sqrt(square / redundancy));
    change = Math.max(change, Math.abs(Math.log(sigma / sigmaMarkMm[k])));
    sigmaMarkMm[k] = sigma;
  });

  change = Math.max(change, widenWander(network, state, solved.covariance));
  for (const group of shapes) {
    if (table.list[group[0]].priorSigma <= HELD) continue;
    const { square, redundancy, spread } = sumOverGroup(group, state, solved);
    // A handful of coefficients that lean on their prior says little about its size: then the slower
    // but safe step of expectation-maximisation.
    const estimate = redundancy < 1 ? (square + spread) / group.length : square / redundancy;
    const { role, believedSigma: first } = table.list[group[0]];
    const board = role === 'board';
    const least = first / (board ? BOARD_SIZE_RANGE : SHAPE_SIZE_RANGE);
    const size = Math.min(first * SHAPE_SIZE_RANGE, Math.max(least, Math.sqrt(estimate)));
    change = Math.max(change, 0.1 * Math.abs(Math.log(size / table.list[group[0]].priorSigma)));
    for (const p of group) table.list[p].priorSigma = size;
  }
  return change;
}

/**
 * Of fewer freedoms the variance is large or none at all. Such sizes lean on the first guess and its range; on simulated boards
 * what rests on them holds as it is.
 */
const FEWEST_FREEDOMS = 4;

/**
 * The size of a shape is estimated from a few coefficients, and where these happen to be small it promises too much. With ν
 * degrees of freedom the variance of what has such a size is ν / (ν - 2) times its square (that of Student's t: JCGM
 * 101:2008, 6.4.9.4). For the final covariance only: the fit itself takes the sizes as estimated. Sizes that stand above
 * that already, because none is believed to be smaller, stay.
 */
export function widenSizes(
  { table }: Network,
  shapes: readonly number[][],
  state: NetworkState,
  solved: Solved,
): void {
  for (const group of shapes) {
    const { priorSigma } = table.list[group[0]];
    if (priorSigma <= HELD) continue;
    const { square, redundancy: freedoms } = sumOverGroup(group, state, solved);
    if (freedoms < FEWEST_FREEDOMS) continue;
    const size = Math.max(priorSigma, Math.sqrt(square / (freedoms - 2)));
    for (const p of group) table.list[p].priorSigma = size;
  }
}

/** Of the coefficients of one shape: what they are, how sure, and how many of them the data fix rather than the prior. */
function sumOverGroup(
  group: readonly number[],
  { values }: NetworkState,
  { covariance, priorWeight }: Solved,
): { readonly square: number; readonly redundancy: number; readonly spread: number } {
  const n = priorWeight.length;
  let square = 0;
  let redundancy = 0;
  let spread = 0;
  for (const p of group) {
    const variance = covariance[p * n + p];
    square += values[p] ** 2;
    spread += variance;
    redundancy += Math.max(0, 1 - variance * priorWeight[p]);
  }
  return { square, redundancy, spread };
}

/**
 * Photos that depart from their camera by more than was believed, in a term that the photos tell: what is
 * believed of such a photo is widened to what was seen, never narrowed. A hand that moves while the rows of a
 * picture are read shears it, and no sum of squares shows it.
 */
function widenWander(network: Network, state: NetworkState, covariance: Float64Array): number {
  const { table, wanderAt, input } = network;
  if (input.beliefs?.cameraTerms !== undefined) return 0;
  let change = 0;
  for (const at of wanderAt) {
    for (let p = at; p < at + WANDER_SIZE; p++) {
      const parameter = table.list[p];
      const { priorSigma, believedSigma } = parameter;
      const freedom = priorSigma ** 2 - covariance[p * table.size + p];
      if (freedom < LEAST_FREEDOM * priorSigma ** 2) continue;
      const normalised = Math.abs(state.values[p]) / Math.sqrt(freedom);
      if (normalised <= CRITICAL && priorSigma === believedSigma) continue;
      const size = Math.max(
        believedSigma,
        Math.sqrt(state.values[p] ** 2 + priorSigma ** 2 - freedom),
      );
      change = Math.max(change, 0.1 * Math.abs(Math.log(size / priorSigma)));
      parameter.priorSigma = size;
    }
  }
  return change;
}
