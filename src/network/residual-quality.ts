/** What every residual is worth: how much of it the others foretell. */

import type { Linearised } from './linearise.js';
import type { Network } from './network.js';
import type { Solved } from './network-equations.js';
import { offsetsOf, type Stochastic, segmentSums, weightOf } from './stochastic.js';

export interface ResidualQuality {
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
export function residualQuality(
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
