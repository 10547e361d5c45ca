/**
 * The one adjustment: Gauss-Newton with Levenberg-Marquardt damping over cameras, poses, machine and
 * evidence, the board segments' own offsets eliminated; weights from estimated variance components;
 * outliers by their normalised residuals.
 */

import { minimise } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { type Linearised, linearise, stepped } from './linearise.js';
import { likenessOfNeighbours } from './neighbouring-marks.js';
import { buildNetwork, type Network, type NetworkState } from './network.js';
import { costOf, misfitOf, normalEquations, type Solved, solve } from './network-equations.js';
import type { NetworkInput } from './network-input.js';
import { residualQuality } from './residual-quality.js';
import { type Stochastic, weightOf } from './stochastic.js';
import {
  CRITICAL,
  LEAST_FREEDOM,
  shapeGroups,
  softenWeights,
  startStochastic,
  testOutliers,
  updateComponents,
  widenSizes,
} from './variance-components.js';

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
/**
 * The same while outliers are tested, which moves more than this leaves. Not before: where a stated focal length is
 * wrong, steps are small for long, and weights that adapt on the way make it fit.
 */
const ROUND_TOLERANCE = 0.05;
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

  let isLast = false;
  for (let round = 0; round < ROBUST_ROUNDS + TEST_ROUNDS; round++) {
    isLast ||= round === ROBUST_ROUNDS + TEST_ROUNDS - 1;
    const whileTested = round < ROBUST_ROUNDS ? COST_TOLERANCE : ROUND_TOLERANCE;
    const tolerance = isLast ? COST_TOLERANCE : whileTested;
    const settled = iterate(network, state, stochastic, linearised, tolerance);
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
    if (round < ROBUST_ROUNDS || changed || moved >= 0.02) continue;
    if (isLast) break;
    isLast = true;
  }
  if (linearised === undefined || solution === undefined) throw new Error('no round was run');
  const markLikeness = likenessOfNeighbours(network, linearised, stochastic, solution);
  const sigmaMarkMm = stochastic.sigmaMarkMm.map((sigma, k) => sigma * markLikeness[k]);
  const widened = { ...stochastic, sigmaMarkMm, markLikeness };
  const misfit = misfitOf(network, state, linearised, stochastic);
  widenSizes(network, shapes, state, solution);
  const told = solve(network, linearised, widened);
  if (told === undefined) throw new Error('wider marks made a regular system singular');
  const fitted = { network, state, linearised, stochastic, solution, misfit };
  return success(finish(fitted, { stochastic: widened, solution: told }, iterations));
}

export interface Settled {
  readonly state: NetworkState;
  readonly linearised: Linearised;
  readonly steps: number;
}

/** Iterates to the minimum at given weights; undefined where there is none. */
export function iterate(
  network: Network,
  start: NetworkState,
  stochastic: Stochastic,
  reuse: Linearised | undefined,
  tolerance = COST_TOLERANCE,
): Settled | undefined {
  const { state, linearised, steps, cost, lastFall, end } = minimise<NetworkState, Linearised>(
    {
      linearise: (at, spare) => linearise(network, at, spare),
      cost: (there, at) => costOf(network, there, stochastic, at),
      normal: (there, at) => normalEquations(network, there, stochastic, at),
      stepped: (at, step) => stepped(network, at, step),
    },
    start,
    { tolerance, mostSteps: MOST_STEPS, ...(reuse && { spare: reuse }) },
  );
  // No step downhill from the very start: it was hopeless. But what fits to the last digit from the start,
  // as no measured thing does, has nowhere to go either.
  if (end === 'rounding' && steps === 1 && cost > COST_TOLERANCE) return undefined;
  // A focal length that nothing fixes is still creeping: the rest stands within its uncertainty.
  if (end === 'unfinished' && lastFall >= CREEP) return undefined;
  return { state, linearised, steps };
}

interface Weighted {
  readonly stochastic: Stochastic;
  readonly solution: Solved;
}

/**
 * @param fitted with marks that scatter one by one: tells how well all fits.
 * @param told with marks that resemble their neighbours: tells how well everything is known.
 */
function finish(
  {
    network,
    state,
    linearised,
    stochastic,
    solution,
    misfit,
  }: Weighted & Pick<Adjustment, 'network' | 'state' | 'linearised' | 'misfit'>,
  told: Weighted,
  iterations: number,
): Adjustment {
  const { input, table } = network;
  const { covariance, information, priorWeight } = told.solution;
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
          covariance[extra.rows.index[a] * n + extra.rows.index[b]];
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
    stochastic: told.stochastic,
    covariance,
    information,
    priorWeight,
    offsetsMm: quality.offsetsMm,
    residualPx: quality.residualPx,
    evidence,
    redundancy,
    varianceFactor: redundancy > 0 ? squares / redundancy : 0,
    iterations,
    misfit,
  };
}
