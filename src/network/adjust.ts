/**
 * The one adjustment: Gauss-Newton with Levenberg-Marquardt damping over cameras, poses, machine and
 * evidence, the board segments' own offsets eliminated; weights from estimated variance components;
 * outliers by their normalised residuals.
 *
 * Sources: Förstner, Ein Verfahren zur Schätzung von Varianz- und Kovarianzkomponenten (1979), for
 * the components; Baarda, A testing procedure for use in geodetic networks (1968), for the residuals.
 */

import { invertNormal, minimise, NormalEquations, robustSigma } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { BOARD_PRIOR_MM, BOARD_SIZE } from './board-surface.js';
import { WANDER_SIZE } from './camera-model.js';
import { type Linearised, linearise, stepped } from './linearise.js';
import { buildNetwork, HELD, isMarksKnown, type Network, type NetworkState } from './network.js';
import { isMeasuredOnBoard, type NetworkInput } from './network-input.js';
import { offsetsOf, type Stochastic, segmentSums, weightOf } from './stochastic.js';

export interface Adjustment {
  readonly network: Network;
  readonly state: NetworkState;
  readonly linearised: Linearised;
  readonly stochastic: Stochastic;
  /** Parameters × parameters, with all priors. */
  readonly covariance: Float64Array;
  /** Normal matrix without priors: what observations, evidence and gauge say. */
  readonly information: Float64Array;
  /** Prior weights, one per parameter; wander and shape components as estimated. */
  readonly priorWeight: Float64Array;
  /** Offset of each segment, mm. */
  readonly offsetsMm: Float64Array;
  /** Residual of each observation less its segment's offset, px. */
  readonly residualPx: Float64Array;
  /** Redundancy number of each evidence item, its residual and the standard deviation it was weighted by. */
  readonly evidence: readonly {
    readonly residual: number;
    readonly redundancy: number;
    readonly sigma: number;
  }[];
  readonly redundancy: number;
  readonly varianceFactor: number;
  readonly iterations: number;
  /** Twice the negative logarithm of the likelihood, less a constant: tells which of two readings fits. */
  readonly misfit: number;
  /** Cameras whose stated focal length was left out, because the photos contradict it. */
  readonly disbelievedFocals?: readonly number[];
}

/**
 * Fall of the sum of weighted squares at which a solution stands: no unknown is then further than some
 * hundredths of its standard uncertainty from the minimum.
 */
const COST_TOLERANCE = 1e-3;
const MOST_STEPS = 60;
/** A fall of the sum of weighted squares by less than this moves nothing by more than its u. */
const CREEP = 0.5;
/**
 * Rounds of robust weights and variance components before outliers are tested one by one, and most rounds
 * of that: the noise of two photos and of the marks part slowly.
 */
const ROBUST_ROUNDS = 3;
const TEST_ROUNDS = 12;
/**
 * Critical value of a normalised residual: one false alarm in 15 000. Baarda's usual 3.29 would drop
 * seven good observations of a set of eight photos.
 */
const CRITICAL = 4;
/** Below this share of its own the photos say nothing of a focal length. */
const LEAST_FREEDOM = 0.02;
/** Robust weights fall to a half here, in standard deviations. */
const ROBUST_SCALE = 3;
/** First guess of the edges' wander on the board, mm. */
const SIGMA_MARK_START_MM = 0.03;
/** No mark is better than this, mm: keeps the component from collapsing on a handful of segments. */
const SIGMA_MARK_LEAST_MM = 0.001;
/** Estimated sizes of shapes stay within this factor of the first guess: a few coefficients say little. */
const SHAPE_SIZE_RANGE = 20;
/** No board is trusted to be flatter than 0.1 mm. */
const BOARD_SIZE_RANGE = 5;
/** A photo's factor is not taken below this: the given standard deviations come from its own scatter. */
const LEAST_FACTOR = 0.1;
/** The common factor of points whose stated standard deviations are weights only, as 1 for all of them. */
const LEAST_COMMON_FACTOR = 1e-6;

/**
 * Adjusts. A stated focal length that the photos clearly contradict is left out and searched for instead.
 *
 * @param input at least one photo with 20 observations, or marks measured on the board.
 * Fails: NO_CONVERGENCE.
 */
export function adjust(input: NetworkInput): Outcome<Adjustment> {
  const first = adjustAsStated(input);
  const doubted = first.ok ? doubtedFocals(first.value) : statedFocals(input);
  if (doubted.length === 0) return first;
  const cameras = input.cameras.map((camera, i) => {
    if (!doubted.includes(i)) return camera;
    const { focalLengthPx: _, ...rest } = camera;
    return rest;
  });
  const second = adjustAsStated({ ...input, cameras });
  // Without the stated one there may be no solution at all; then there is this doubtful one, or the failure.
  if (!second.ok || (first.ok && second.value.misfit >= first.value.misfit)) return first;
  return success({ ...second.value, disbelievedFocals: doubted });
}

function statedFocals({ cameras, beliefs }: NetworkInput): number[] {
  if (beliefs?.cameraTerms !== undefined) return [];
  return cameras.flatMap(({ focalLengthPx }, i) => (focalLengthPx === undefined ? [] : [i]));
}

/** Cameras whose stated focal length is contradicted: the prior's normalised residual (Baarda). */
function doubtedFocals({ network, state, covariance }: Adjustment): number[] {
  const { cameraAt, input, table } = network;
  return statedFocals(input).filter((i) => {
    const p = cameraAt[i];
    const { priorMean, priorSigma } = table.list[p];
    const freedom = priorSigma ** 2 - covariance[p * table.size + p];
    if (freedom < LEAST_FREEDOM * priorSigma ** 2) return false;
    return Math.abs(state.values[p] - priorMean) > CRITICAL * Math.sqrt(freedom);
  });
}

function adjustAsStated(input: NetworkInput): Outcome<Adjustment> {
  const built = buildNetwork(input);
  if (built === undefined) {
    return failed('NO_CONVERGENCE', 'a photo shows the grid mirrored or from below');
  }
  const { network } = built;
  let { state } = built;
  const stochastic = startStochastic(input);
  const shapes = shapeGroups(network);
  let iterations = 0;
  let linearised: Linearised | undefined;
  let solution: Solved | undefined;

  for (let round = 0; round < ROBUST_ROUNDS + TEST_ROUNDS; round++) {
    const settled = iterate(network, state, stochastic, linearised);
    if (settled === undefined) {
      return failed('NO_CONVERGENCE', 'the adjustment of the photos found no solution', {
        hint: 'check that the program is the one that marked this board, and that all photos show it',
        figures: { photos: input.photos.length, observations: input.observations.length },
      });
    }
    state = settled.state;
    linearised = settled.linearised;
    iterations += settled.steps;
    solution = solve(network, linearised, stochastic);
    if (solution === undefined) {
      return failed('NO_CONVERGENCE', 'the normal equations of the photos are singular');
    }
    if (round === ROBUST_ROUNDS + TEST_ROUNDS - 1) break;
    const quality = residualQuality(network, linearised, stochastic, solution);
    const changed =
      input.beliefs?.commonVariance === true
        ? false
        : round < ROBUST_ROUNDS
          ? softenWeights(input, stochastic, quality)
          : testOutliers(input, stochastic, quality);
    const moved = updateComponents(network, stochastic, quality, shapes, state, solution);
    if (round >= ROBUST_ROUNDS && !changed && moved < 0.02) break;
  }
  if (linearised === undefined || solution === undefined) throw new Error('no round was run');
  return success(finish(network, state, linearised, stochastic, solution, iterations));
}

function startStochastic(input: NetworkInput): Stochastic {
  const sigmaPx = Float64Array.from(input.observations, (o) => o.sigmaPx);
  const sigmaMarkMm = isMarksKnown(input) ? HELD : SIGMA_MARK_START_MM;
  return {
    sigmaPx,
    keep: new Float64Array(sigmaPx.length).fill(1),
    // The last one is for what was measured without a photo: its uncertainty is stated, and stands.
    photoFactor: new Float64Array(input.photos.length + 1).fill(1),
    sigmaMarkMm: new Float64Array(input.placements.length).fill(sigmaMarkMm),
    keepSegment: new Float64Array(input.segments.length).fill(1),
  };
}

/** Parameters whose common size is estimated: shapes of guides, yaw, progression, single lines, board. */
function shapeGroups(network: Network): number[][] {
  const { machine } = network;
  const { straightnessX, straightnessY, progressionX, progressionY, yaw, lineX, lineY } =
    machine.index;
  const { rungX, rungY } = machine.index;
  const endOfRungs = rungY + (machine.layout.rungsAtY?.length ?? 0);
  const range = (from: number, to: number) => Array.from({ length: to - from }, (_, k) => from + k);
  // The first yaw term is a difference of scale between the gantry's sides, no bend.
  return [
    straightnessX,
    straightnessY,
    progressionX,
    progressionY,
    yaw.slice(1),
    // A rung strays from the smooth course as a line does.
    [...range(lineX, lineY), ...range(rungX, rungY)],
    [...range(lineY, rungX), ...range(rungY, endOfRungs)],
    range(network.boardAt, network.boardAt + BOARD_SIZE),
  ].flatMap((group) => (group.length > 0 ? [[...group]] : []));
}

interface Settled {
  readonly state: NetworkState;
  readonly linearised: Linearised;
  readonly steps: number;
}

function iterate(
  network: Network,
  start: NetworkState,
  stochastic: Stochastic,
  reuse: Linearised | undefined,
): Settled | undefined {
  const { state, linearised, steps, cost, lastFall, end } = minimise<NetworkState, Linearised>(
    {
      linearise: (at, spare) => linearise(network, at, spare),
      cost: (there, at) => costOf(network, there, stochastic, at),
      normal: (there, at) => normalEquations(network, there, stochastic, at),
      stepped: (at, step) => stepped(network, at, step),
    },
    start,
    { tolerance: COST_TOLERANCE, mostSteps: MOST_STEPS, ...(reuse && { spare: reuse }) },
  );
  // No step downhill from the very start: it was hopeless. But what fits to the last digit from the start,
  // as no measured thing does, has nowhere to go either.
  if (end === 'rounding' && steps === 1 && cost > COST_TOLERANCE) return undefined;
  // A focal length that nothing fixes is still creeping: the rest stands within its uncertainty.
  if (end === 'unfinished' && lastFall >= CREEP) return undefined;
  return { state, linearised, steps };
}

function costOf(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
  state: NetworkState,
): number {
  const { input, table } = network;
  const { residual, extra } = linearised;
  const { pivot, load } = segmentSums(network, linearised, stochastic);
  let cost = 0;
  for (let i = 0; i < residual.length; i++) {
    cost += weightOf(input, stochastic, i) * residual[i] ** 2;
  }
  for (let j = 0; j < pivot.length; j++) cost -= load[j] ** 2 / pivot[j];
  for (let k = 0; k < extra.residual.length; k++) {
    cost += (extra.residual[k] / extra.sigma[k]) ** 2;
  }
  table.list.forEach(({ priorMean, priorSigma }, p) => {
    if (priorSigma < Number.POSITIVE_INFINITY) {
      cost += ((state.values[p] - priorMean) / priorSigma) ** 2;
    }
  });
  return cost;
}

/** Observations, evidence and gauge, without priors. */
function informationOf(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
): NormalEquations {
  const { input, table, observationsOf: observations } = network;
  const { rows, residual, byOffset, byOther, extra } = linearised;
  const system = new NormalEquations(table.size);
  const { pivot, load, cross } = segmentSums(network, linearised, stochastic);
  const coupling = new Float64Array(table.size);
  const second = new Float64Array(table.size);
  const touched = new Int32Array(table.size);
  for (let j = 0; j < observations.length; j++) {
    const { pair } = input.segments[j];
    let count = 0;
    for (const i of observations[j]) {
      const w = weightOf(input, stochastic, i);
      if (w === 0) continue;
      system.addRow(rows, i, residual[i], w);
      const wh = w * byOffset[i];
      for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
        const p = rows.index[e];
        if (coupling[p] === 0) touched[count++] = p;
        coupling[p] += wh * rows.value[e];
        // A sum that cancels to nothing would be listed twice.
        if (coupling[p] === 0) coupling[p] = Number.MIN_VALUE;
        if (pair !== undefined) second[p] += w * byOther[i] * rows.value[e];
      }
    }
    if (count > 0) system.eliminate(coupling, touched, count, pivot[j], load[j]);
    if (count > 0 && pair !== undefined) {
      for (let k = 0; k < count; k++) {
        second[touched[k]] -= (cross[j] / pivot[j]) * coupling[touched[k]];
      }
      system.eliminate(second, touched, count, pivot[pair], load[pair]);
    }
    for (let k = 0; k < count; k++) coupling[touched[k]] = second[touched[k]] = 0;
  }
  for (let k = 0; k < extra.residual.length; k++) {
    system.addRow(extra.rows, k, extra.residual[k], 1 / extra.sigma[k] ** 2);
  }
  return system;
}

function normalEquations(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
  state: NetworkState,
): NormalEquations {
  const system = informationOf(network, linearised, stochastic);
  network.table.list.forEach(({ priorMean, priorSigma }, p) => {
    if (priorSigma < Number.POSITIVE_INFINITY) {
      system.addPrior(p, priorMean - state.values[p], 1 / priorSigma ** 2);
    }
  });
  system.symmetrise();
  return system;
}

export interface Solved {
  readonly information: Float64Array;
  readonly priorWeight: Float64Array;
  readonly covariance: Float64Array;
}

/** The matrices at a state; undefined where they are singular. */
export function solve(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
): Solved | undefined {
  const system = informationOf(network, linearised, stochastic);
  system.symmetrise();
  const n = network.table.size;
  const information = system.matrix;
  const priorWeight = Float64Array.from(network.table.list, (p) => 1 / p.priorSigma ** 2);
  const full = information.slice();
  for (let p = 0; p < n; p++) full[p * n + p] += priorWeight[p];
  const covariance = invertNormal(full, n);
  return covariance === undefined ? undefined : { information, priorWeight, covariance };
}

interface ResidualQuality {
  /** Residual less the segment's offset, px. */
  readonly residualPx: Float64Array;
  /** Redundancy number of each observation, 0..1. */
  readonly redundancy: Float64Array;
  readonly offsetsMm: Float64Array;
  /** Redundancy number of each segment's zero offset. */
  readonly offsetRedundancy: Float64Array;
}

/**
 * Residuals and redundancy numbers of observations and of offsets, exactly (leverages of both kinds).
 *
 * With the offsets' pivots P, their coupling G to the parameters and t = P⁻¹ h, the variance of a fitted
 * value of row a and offset slopes h is (a - G t)ᵀ C (a - G t) + hᵀ t.
 */
function residualQuality(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
  { covariance }: Solved,
): ResidualQuality {
  const { input, table, observationsOf: observations } = network;
  const { rows, residual, byOffset, byOther } = linearised;
  const n = table.size;
  const sums = segmentSums(network, linearised, stochastic);
  const { pivot, cross } = sums;
  const offsetsMm = offsetsOf(network, sums);
  const residualPx = new Float64Array(residual.length);
  const redundancy = new Float64Array(residual.length);
  const offsetRedundancy = new Float64Array(observations.length);
  const redundancyOf = (variance: number, j: number) =>
    Math.max(0, 1 - variance / stochastic.sigmaMarkMm[input.segments[j].placement] ** 2);
  const inPair = new Set(input.segments.flatMap(({ pair }) => pair ?? []));
  const first = makeCoupling(n);
  const second = makeCoupling(n);
  for (let j = 0; j < observations.length; j++) {
    if (inPair.has(j)) continue;
    const { pair } = input.segments[j];
    couple(first, network, linearised, stochastic, byOffset, j, covariance);
    const d = pivot[j];
    const variance = 1 / d + first.spread / (d * d);
    // Inverse of the pivots; for a line the one quotient.
    let inverse: readonly [number, number, number] = [1 / d, 0, 0];
    let mixedSpread = 0;
    if (pair === undefined) {
      offsetRedundancy[j] = redundancyOf(variance, j);
    } else {
      couple(second, network, linearised, stochastic, byOther, j, covariance);
      for (let p = 0; p < n; p++) mixedSpread += first.vector[p] * second.product[p];
      const e = pivot[pair];
      inverse = [1 / d + cross[j] ** 2 / (d * d * e), -cross[j] / (d * e), 1 / e];
      const spreadAt = (a: number, b: number) =>
        a * a * first.spread + 2 * a * b * mixedSpread + b * b * second.spread;
      offsetRedundancy[j] = redundancyOf(inverse[0] + spreadAt(inverse[0], inverse[1]), j);
      offsetRedundancy[pair] = redundancyOf(inverse[2] + spreadAt(inverse[1], inverse[2]), pair);
    }
    for (const i of observations[j]) {
      const h = byOffset[i];
      const g = pair === undefined ? 0 : byOther[i];
      residualPx[i] =
        residual[i] - h * offsetsMm[j] - (pair === undefined ? 0 : g * offsetsMm[pair]);
      const t = inverse[0] * h + inverse[1] * g;
      const s = inverse[1] * h + inverse[2] * g;
      let own = 0;
      let mixed = 0;
      for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
        const p = rows.index[e];
        const a = rows.value[e];
        mixed += a * (t * first.product[p] + (s === 0 ? 0 : s * second.product[p]));
        const at = p * n;
        let sum = 0;
        for (let f = rows.start[i]; f < e; f++)
          sum += rows.value[f] * covariance[at + rows.index[f]];
        own += a * (2 * sum + a * covariance[at + p]);
      }
      const spread = t * t * first.spread + 2 * t * s * mixedSpread + s * s * second.spread;
      const fitted = own - 2 * mixed + spread + h * t + g * s;
      const sigma = stochastic.sigmaPx[i] * stochastic.photoFactor[input.observations[i].photo];
      redundancy[i] = Math.min(1, Math.max(0, 1 - fitted / (sigma * sigma)));
    }
  }
  return { residualPx, redundancy, offsetsMm, offsetRedundancy };
}

/** How an offset hangs together with the parameters: g, C g and gᵀ C g. */
interface Coupling {
  readonly vector: Float64Array;
  readonly product: Float64Array;
  spread: number;
}

function makeCoupling(size: number): Coupling {
  return { vector: new Float64Array(size), product: new Float64Array(size), spread: 0 };
}

function couple(
  into: Coupling,
  network: Network,
  { rows }: Linearised,
  stochastic: Stochastic,
  slopes: Float64Array,
  segment: number,
  covariance: Float64Array,
): void {
  const { vector, product } = into;
  const n = vector.length;
  vector.fill(0);
  for (const i of network.observationsOf[segment]) {
    const wh = weightOf(network.input, stochastic, i) * slopes[i];
    for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
      vector[rows.index[e]] += wh * rows.value[e];
    }
  }
  product.fill(0);
  into.spread = 0;
  for (let p = 0; p < n; p++) {
    const g = vector[p];
    if (g === 0) continue;
    const at = p * n;
    for (let q = 0; q < n; q++) product[q] += g * covariance[at + q];
  }
  for (let p = 0; p < n; p++) into.spread += vector[p] * product[p];
}

/** Geman-McClure-like weights while the components are still unknown; first the scales, robustly. */
function softenWeights(
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

function testOutliers(
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
function updateComponents(
  network: Network,
  stochastic: Stochastic,
  quality: ResidualQuality,
  shapes: readonly number[][],
  state: NetworkState,
  { covariance, priorWeight }: Solved,
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

  change = Math.max(change, widenWander(network, state, covariance));
  for (const group of shapes) {
    if (table.list[group[0]].priorSigma <= HELD) continue;
    let square = 0;
    let redundancy = 0;
    let spread = 0;
    for (const p of group) {
      const variance = covariance[p * table.size + p];
      square += state.values[p] ** 2;
      spread += variance;
      redundancy += Math.max(0, 1 - variance * priorWeight[p]);
    }
    // A handful of coefficients that lean on their prior says little about its size: then the slower
    // but safe step of expectation-maximisation.
    const estimate = redundancy < 1 ? (square + spread) / group.length : square / redundancy;
    const board = table.list[group[0]].role === 'board';
    const first = board ? BOARD_PRIOR_MM : network.machine.terms[group[0]].priorSigma;
    const least = first / (board ? BOARD_SIZE_RANGE : SHAPE_SIZE_RANGE);
    const size = Math.min(first * SHAPE_SIZE_RANGE, Math.max(least, Math.sqrt(estimate)));
    change = Math.max(change, 0.1 * Math.abs(Math.log(size / table.list[group[0]].priorSigma)));
    for (const p of group) table.list[p].priorSigma = size;
  }
  return change;
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

function finish(
  network: Network,
  state: NetworkState,
  linearised: Linearised,
  stochastic: Stochastic,
  solution: Solved,
  iterations: number,
): Adjustment {
  const { input, table } = network;
  const quality = residualQuality(network, linearised, stochastic, solution);
  const n = table.size;
  let squares = 0;
  let redundancy = 0;
  for (let i = 0; i < input.observations.length; i++) {
    const w = weightOf(input, stochastic, i);
    if (w === 0) continue;
    squares += w * quality.residualPx[i] ** 2;
    redundancy += quality.redundancy[i];
  }
  for (const [j, segment] of input.segments.entries()) {
    if (stochastic.keepSegment[j] === 0) continue;
    squares += (quality.offsetsMm[j] / stochastic.sigmaMarkMm[segment.placement]) ** 2;
    redundancy += quality.offsetRedundancy[j];
  }
  const evidence = input.evidence.map((_, source) => {
    const { extra } = linearised;
    const row = extra.source.indexOf(source);
    let leverage = 0;
    for (let a = extra.rows.start[row]; a < extra.rows.start[row + 1]; a++) {
      for (let b = extra.rows.start[row]; b < extra.rows.start[row + 1]; b++) {
        leverage +=
          extra.rows.value[a] *
          extra.rows.value[b] *
          solution.covariance[extra.rows.index[a] * n + extra.rows.index[b]];
      }
    }
    const sigma = extra.sigma[row];
    const redundancy = Math.max(0, 1 - leverage / sigma ** 2);
    return { residual: extra.residual[row], redundancy, sigma };
  });
  return {
    network,
    state,
    linearised,
    stochastic,
    covariance: solution.covariance,
    information: solution.information,
    priorWeight: solution.priorWeight,
    offsetsMm: quality.offsetsMm,
    residualPx: quality.residualPx,
    evidence,
    redundancy,
    varianceFactor: redundancy > 0 ? squares / redundancy : 0,
    iterations,
    misfit: misfitOf(network, state, linearised, stochastic),
  };
}

/** Weighted squares plus the logarithms of the variances they were weighted by, offsets integrated out. */
function misfitOf(
  network: Network,
  state: NetworkState,
  linearised: Linearised,
  stochastic: Stochastic,
): number {
  const { input, table } = network;
  const { pivot } = segmentSums(network, linearised, stochastic);
  let misfit = costOf(network, linearised, stochastic, state);
  for (const [i, { photo, segment }] of input.observations.entries()) {
    const kept = stochastic.keep[i] * stochastic.keepSegment[segment];
    misfit += 2 * Math.log(stochastic.sigmaPx[i] * stochastic.photoFactor[photo]);
    // What was dropped fits no better than the critical value.
    misfit += (1 - kept) * CRITICAL ** 2;
  }
  for (const [j, { placement }] of input.segments.entries()) {
    misfit += Math.log(pivot[j] * stochastic.sigmaMarkMm[placement] ** 2);
  }
  for (const { priorSigma } of table.list) {
    if (priorSigma < Number.POSITIVE_INFINITY) misfit += 2 * Math.log(priorSigma);
  }
  return misfit;
}
