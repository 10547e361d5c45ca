/** A turned board against what photos and cameras say by themselves: do the two methods agree? */

import type { Quantity } from '../../shared/schemas/measurement.js';
import { type Adjustment, adjust } from './adjust.js';
import { estimateMachine, type MachineEstimates } from './estimates.js';
import type { NetworkInput } from './network-input.js';
import { isCameraFree } from './placement-turns.js';

export interface MethodComparison {
  readonly squareness: ComparedQuantity;
  readonly ratio: ComparedQuantity;
  /** Of the photos alone, what a turn leaves open. */
  readonly ofPhotos: Pick<MachineEstimates, 'straightness' | 'straightnessCurve'>;
}

export interface ComparedQuantity {
  readonly turned: Quantity;
  /** From the first placement alone, with what is believed of cameras. */
  readonly photos: Quantity;
  /** Normalised error (ISO 13528); absent where one of them is undetermined. */
  readonly En?: number;
}

/**
 * The marks of the first placement are read by both, but hardly count in the uncertainty of the photos: that
 * is their camera's. So both are taken for independent.
 *
 * @param turned of a turned board, nothing believed of the camera.
 * @returns undefined for other boards, and where the photos alone have no solution.
 */
export function compareMethods(turned: Adjustment): MethodComparison | undefined {
  const { input } = turned.network;
  if (!isCameraFree(input)) return undefined;
  const outcome = adjust(firstPlacementOf(input));
  if (!outcome.ok) return undefined;
  const [own, other] = [turned, outcome.value].map(estimateMachine);
  return {
    squareness: compare(own.squareness, other.squareness),
    ratio: compare(own.scale.ratio, other.scale.ratio),
    ofPhotos: { straightness: other.straightness, straightnessCurve: other.straightnessCurve },
  };
}

/** The lines of all placements stay, so that both speak of the same mean directions. */
function firstPlacementOf(input: NetworkInput): NetworkInput {
  const indexOf = new Map<number, number>();
  input.segments.forEach(({ placement }, i) => {
    if (placement === 0) indexOf.set(i, indexOf.size);
  });
  return {
    ...input,
    placements: input.placements.slice(0, 1),
    segments: input.segments.flatMap((segment) => {
      if (segment.placement !== 0) return [];
      const pair = segment.pair === undefined ? undefined : indexOf.get(segment.pair);
      return [pair === undefined ? segment : { ...segment, pair }];
    }),
    observations: input.observations.flatMap((seen) => {
      const segment = indexOf.get(seen.segment);
      return segment === undefined ? [] : [{ ...seen, segment }];
    }),
    beliefs: { ...input.beliefs, camera: 'believed' },
  };
}

function compare(turned: Quantity, photos: Quantity): ComparedQuantity {
  if (turned.state === 'undetermined' || photos.state === 'undetermined') return { turned, photos };
  const En = Math.abs(turned.value - photos.value) / Math.hypot(turned.U, photos.U);
  return { turned, photos, En };
}
