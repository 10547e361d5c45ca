/** Weights of the network, and the sums over each board segment that they enter. */

import type { Linearised } from './linearise.js';
import type { Network } from './network.js';
import type { NetworkInput } from './network-input.js';

/** Weights of the observations and of the segments' offsets. */
export interface Stochastic {
  /** Standard deviation of each observation, px, with its photo's factor. */
  readonly sigmaPx: Float64Array;
  /** Share of its weight that each observation keeps; 0: taken for an outlier. */
  readonly keep: Float64Array;
  /** Factor on the given standard deviations, one per photo, and one of what was measured without a photo. */
  readonly photoFactor: Float64Array;
  /** Standard deviation of the segments' offsets on the board, mm, one per placement. */
  readonly sigmaMarkMm: Float64Array;
  /** 1: a usual segment; 0: its mark lies elsewhere, it carries no weight. */
  readonly keepSegment: Float64Array;
}

/** Sums over each segment that the elimination of its offset needs. */
export function segmentSums(
  network: Network,
  { residual, byOffset }: Linearised,
  stochastic: Stochastic,
): { pivot: Float64Array; load: Float64Array } {
  const { input } = network;
  const pivot = new Float64Array(input.segments.length);
  const load = new Float64Array(input.segments.length);
  for (const [j, segment] of input.segments.entries()) {
    pivot[j] = 1 / stochastic.sigmaMarkMm[segment.placement] ** 2;
  }
  for (let i = 0; i < input.observations.length; i++) {
    const j = input.observations[i].segment;
    const w = weightOf(input, stochastic, i);
    pivot[j] += w * byOffset[i] ** 2;
    load[j] += w * byOffset[i] * residual[i];
  }
  return { pivot, load };
}

/** Weight (1/variance, px⁻²) of an observation; 0 where it or its segment was dropped. */
export function weightOf(input: NetworkInput, s: Stochastic, i: number): number {
  const { photo, segment } = input.observations[i];
  const sigma = s.sigmaPx[i] * s.photoFactor[photo];
  return (s.keep[i] * s.keepSegment[segment]) / (sigma * sigma);
}

/** Whether an observation counts: neither it nor its segment was taken for an outlier. */
export function isKept(input: NetworkInput, s: Stochastic, i: number): boolean {
  return s.keep[i] > 0 && s.keepSegment[input.observations[i].segment] > 0;
}
