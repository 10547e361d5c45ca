/**
 * Squareness and ratio from pairs of photos a quarter turn apart, each pair by itself: cameras that wander by
 * more than is believed, or a hand that moves, leave every sum of squares clean but make the pairs scatter.
 */

import { SCALE_DIFFERENCE, SQUARENESS } from '../machine/index.js';
import { type Adjustment, iterate } from './adjust.js';
import { carryOver } from './carry-over.js';
import { buildNetwork } from './network.js';
import { solve } from './network-equations.js';
import { isMeasuredOnBoard } from './network-input.js';
import type { Stochastic } from './stochastic.js';
import { varianceParts } from './variance-shares.js';
import { viewOf } from './view-of.js';

export interface PairEstimate {
  readonly photos: readonly [number, number];
  /** rad. */
  readonly squareness: number;
  /** Half the difference of the scales. */
  readonly scaleDifference: number;
  /**
   * Standard deviations by which pairs may scatter: what photos read and what cameras may do. The shared
   * camera counts as well, for every pair is tilted otherwise.
   */
  readonly scatterOfSquareness: number;
  readonly scatterOfDifference: number;
}

/** Pairs in the order of the photos, none twice; fewer where photos of one way round are lacking. */
export function compareRolls(adjustment: Adjustment): PairEstimate[] {
  const { input } = adjustment.network;
  const quarters = input.photos.map((_, i) => viewOf(adjustment, i).quarter % 2);
  const even = quarters.flatMap((quarter, i) => (quarter === 0 ? [i] : []));
  const odd = quarters.flatMap((quarter, i) => (quarter === 1 ? [i] : []));
  return even.flatMap((first, i): PairEstimate[] => {
    const second = odd[i];
    return second === undefined ? [] : estimatePair(adjustment, [first, second]);
  });
}

/**
 * Begins where the whole adjustment ended, with its weights and what it took out: only the photos are others.
 * None where the two photos alone have no solution.
 */
function estimatePair(whole: Adjustment, photos: readonly [number, number]): PairEstimate[] {
  const { input } = whole.network;
  const chosen = input.observations.flatMap((seen, i) =>
    photos.includes(seen.photo) && !isMeasuredOnBoard(input, seen) ? [i] : [],
  );
  const built = buildNetwork({
    ...input,
    photos: photos.map((i) => input.photos[i]),
    observations: chosen.map((i) => ({
      ...input.observations[i],
      photo: photos.indexOf(input.observations[i].photo),
    })),
    // Nothing but the photos is to speak here; the scale is held by its wide prior.
    evidence: [],
  });
  if (built === undefined) return [];
  const { network } = built;
  const values = carryOver(
    whole.network,
    whole.state,
    network,
    network.table.initialValues(),
    (photo) => photos[photo],
  );
  const { stochastic } = whole;
  const weights: Stochastic = {
    sigmaPx: Float64Array.from(chosen, (i) => stochastic.sigmaPx[i]),
    keep: Float64Array.from(chosen, (i) => stochastic.keep[i]),
    photoFactor: Float64Array.from([...photos.map((i) => stochastic.photoFactor[i]), 1]),
    sigmaMarkMm: stochastic.sigmaMarkMm,
    markLikeness: stochastic.markLikeness,
    keepSegment: stochastic.keepSegment,
  };
  const start = { values, rotations: photos.map((i) => whole.state.rotations[i]) };
  const settled = iterate(network, start, weights, undefined);
  if (settled === undefined) return [];
  const { state, linearised } = settled;
  const solution = solve(network, linearised, weights);
  if (solution === undefined) return [];
  const pair = { ...whole, network, state, linearised, stochastic: weights, ...solution };
  const scatter = (parameter: number) => {
    const gradient = new Float64Array(network.table.size);
    gradient[parameter] = 1;
    const parts = varianceParts(pair, gradient);
    return Math.sqrt(parts.photos + parts.camera);
  };
  return [
    {
      photos,
      squareness: state.values[SQUARENESS],
      scaleDifference: state.values[SCALE_DIFFERENCE],
      scatterOfSquareness: scatter(SQUARENESS),
      scatterOfDifference: scatter(SCALE_DIFFERENCE),
    },
  ];
}
