/**
 * What a clean fit does not vouch for: photos that depart from their camera by more than was allowed for, and
 * arrangements of photos in which the camera can pass for the machine.
 */

import { SQUARENESS } from '../machine/index.js';
import { backSubstitute, factorise, forwardSubstitute } from '../numerics/index.js';
import type { Adjustment } from './adjust.js';
import { WANDER_TERMS } from './camera-model.js';

export type WanderTerm = (typeof WANDER_TERMS)[number];

/** A photo's departure from its camera, in units of what was believed. */
export interface Departure {
  readonly photo: number;
  readonly term: WanderTerm;
  /** As estimated: relative (f, aspect, skew) or px. */
  readonly value: number;
  /** Normalised by what such an estimate scatters by if the belief holds (Baarda). */
  readonly normalised: number;
}

/** A term of a photo of which the photos say less than this share of what is believed is not judged. */
const LEAST_SAY = 0.1;

/** All departures that the photos have a say in. */
export function listDepartures({ network, state, covariance }: Adjustment): Departure[] {
  const n = network.table.size;
  return network.wanderAt.flatMap((at, photo) =>
    WANDER_TERMS.flatMap((term, k): Departure[] => {
      const p = at + k;
      const believed = network.table.list[p].believedSigma;
      const { priorSigma } = network.table.list[p];
      const say = 1 - covariance[p * n + p] / priorSigma ** 2;
      if (!(say > LEAST_SAY)) return [];
      const value = state.values[p];
      return [{ photo, term, value, normalised: value / (believed * Math.sqrt(say)) }];
    }),
  );
}

/**
 * Share of the variance of squareness that would go if the shared terms of the cameras were known: near one,
 * the photos are so arranged that the camera's centre, shape or distortion passes for a machine out of square.
 */
export function shareOfCamera({ network, covariance }: Adjustment): number {
  const n = network.table.size;
  const shared = network.table.list.flatMap(({ role, priorSigma }, p) =>
    (role === 'sharedCamera' || role === 'distortion') &&
    covariance[p * n + p] > 0 &&
    priorSigma > 0
      ? [p]
      : [],
  );
  const size = shared.length;
  const scale = shared.map((p) => Math.sqrt(covariance[p * n + p]));
  const block = new Float64Array(size * size);
  const across = new Float64Array(size);
  shared.forEach((p, i) => {
    across[i] = covariance[p * n + SQUARENESS] / scale[i];
    for (let j = 0; j <= i; j++) {
      block[i * size + j] = covariance[p * n + shared[j]] / (scale[i] * scale[j]);
    }
    // Terms that nothing tells apart have a correlation of one: the tiniest noise keeps the block regular.
    block[i * size + i] += Number.EPSILON * size;
  });
  if (!factorise(block, size)) return 0;
  const solved = backSubstitute(block, size, forwardSubstitute(block, size, across.slice()));
  const explained = across.reduce((sum, value, i) => sum + value * solved[i], 0);
  return Math.min(1, Math.max(0, explained / covariance[SQUARENESS * n + SQUARENESS]));
}
