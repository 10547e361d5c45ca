/**
 * Squareness and ratio from pairs of photos a quarter turn apart, each pair by itself: cameras that wander by
 * more than is believed, or a hand that moves, leave every sum of squares clean but make the pairs scatter.
 */

import { SCALE_DIFFERENCE, SQUARENESS } from '../machine/index.js';
import { type Adjustment, adjust } from './adjust.js';
import { isMeasuredOnBoard } from './network-input.js';
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

/** None where the two photos alone have no solution. */
function estimatePair({ network }: Adjustment, photos: readonly [number, number]): PairEstimate[] {
  const { input } = network;
  const outcome = adjust({
    ...input,
    photos: photos.map((i) => input.photos[i]),
    observations: input.observations.flatMap((seen) => {
      const photo = photos.indexOf(seen.photo);
      return photo < 0 || isMeasuredOnBoard(input, seen) ? [] : [{ ...seen, photo }];
    }),
    // Nothing but the photos is to speak here; the scale is held by its wide prior.
    evidence: [],
  });
  if (!outcome.ok) return [];
  const { state } = outcome.value;
  const scatter = (parameter: number) => {
    const gradient = new Float64Array(outcome.value.network.table.size);
    gradient[parameter] = 1;
    const parts = varianceParts(outcome.value, gradient);
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
