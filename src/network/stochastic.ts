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
  /** The factor in that by which neighbours' likeness makes it larger than their scatter; 1 until it is known. */
  readonly markLikeness: Float64Array;
  /** 1: a usual segment; 0: its mark lies elsewhere, it carries no weight. */
  readonly keepSegment: Float64Array;
}

/**
 * Sums over each segment that the elimination of its offset needs. The two offsets of a point are
 * eliminated one after the other: what stands here for the second is what the first one leaves.
 */
export interface SegmentSums {
  readonly pivot: Float64Array;
  readonly load: Float64Array;
  /** For the first segment of a point: the sum that couples both offsets. */
  readonly cross: Float64Array;
}

/** @param seen one value per observation, px; the residuals where absent. */
export function segmentSums(
  network: Network,
  { residual, byOffset, byOther }: Linearised,
  stochastic: Stochastic,
  seen: Float64Array = residual,
): SegmentSums {
  const { input } = network;
  const { segments } = input;
  const pivot = new Float64Array(segments.length);
  const load = new Float64Array(segments.length);
  const cross = new Float64Array(segments.length);
  for (const [j, segment] of segments.entries()) {
    pivot[j] = 1 / stochastic.sigmaMarkMm[segment.placement] ** 2;
  }
  for (let i = 0; i < input.observations.length; i++) {
    const j = input.observations[i].segment;
    const w = weightOf(input, stochastic, i);
    const h = byOffset[i];
    pivot[j] += w * h ** 2;
    load[j] += w * h * seen[i];
    const { pair } = segments[j];
    if (pair === undefined) continue;
    pivot[pair] += w * byOther[i] ** 2;
    load[pair] += w * byOther[i] * seen[i];
    cross[j] += w * h * byOther[i];
  }
  for (const [j, { pair }] of segments.entries()) {
    if (pair === undefined) continue;
    pivot[pair] -= cross[j] ** 2 / pivot[j];
    load[pair] -= (cross[j] * load[j]) / pivot[j];
  }
  return { pivot, load, cross };
}

/** The offsets that solve the eliminated equations, mm. */
export function offsetsOf(network: Network, { pivot, load, cross }: SegmentSums): Float64Array {
  const offsets = new Float64Array(pivot.length);
  const { segments } = network.input;
  for (let j = 0; j < offsets.length; j++) offsets[j] = load[j] / pivot[j];
  for (const [j, { pair }] of segments.entries()) {
    if (pair !== undefined) offsets[j] -= (cross[j] * offsets[pair]) / pivot[j];
  }
  return offsets;
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
