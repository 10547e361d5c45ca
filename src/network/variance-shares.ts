/** Where the variance of an estimate comes from. */

import type { Adjustment } from './adjust.js';
import { isMeasuredOnBoard } from './network-input.js';
import { offsetsOf, segmentSums, weightOf } from './stochastic.js';

export interface VarianceShares {
  /** Reading of the marks in the photos. */
  readonly photos: number;
  /** Wander of the marks on the board. */
  readonly marks: number;
  /** Taped lengths, rules, square checks, marks measured on the board. */
  readonly evidence: number;
  /** What is believed of the camera, of the board's flatness and of the size of shapes. */
  readonly camera: number;
}

export function varianceShares(adjustment: Adjustment, gradient: Float64Array): VarianceShares {
  const { photos, marks, evidence, camera } = varianceParts(adjustment, gradient);
  const total = photos + marks + evidence + camera || 1;
  return {
    photos: photos / total,
    marks: marks / total,
    evidence: evidence / total,
    camera: camera / total,
  };
}

/**
 * Splits cᵀ C c into the parts of its sources: with z = C c, every equation of weight w and row a
 * contributes w (a·z)²; offsets of segments count as unknowns of their own.
 */
export function varianceParts(adjustment: Adjustment, gradient: Float64Array): VarianceShares {
  const { network, covariance, linearised, stochastic, priorWeight } = adjustment;
  const { input } = network;
  const { rows, byOffset, byOther, extra } = linearised;
  const n = gradient.length;
  const z = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    if (gradient[i] === 0) continue;
    for (let j = 0; j < n; j++) z[j] += covariance[i * n + j] * gradient[i];
  }
  const count = input.observations.length;
  const along = new Float64Array(count);
  const weights = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    weights[i] = weightOf(input, stochastic, i);
    for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
      along[i] += rows.value[e] * z[rows.index[e]];
    }
  }
  const pulled = offsetsOf(network, segmentSums(network, linearised, stochastic, along));
  let photos = 0;
  let marks = 0;
  let evidence = 0;
  let camera = 0;
  for (let i = 0; i < count; i++) {
    const { segment } = input.observations[i];
    const { pair } = input.segments[segment];
    const other = pair === undefined ? 0 : byOther[i] * pulled[pair];
    const part = weights[i] * (along[i] - byOffset[i] * pulled[segment] - other) ** 2;
    if (isMeasuredOnBoard(input, input.observations[i])) evidence += part;
    else photos += part;
  }
  for (const [j, segment] of input.segments.entries()) {
    marks += (pulled[j] / stochastic.sigmaMarkMm[segment.placement]) ** 2;
  }
  for (let k = 0; k < extra.sigma.length; k++) {
    let sum = 0;
    for (let e = extra.rows.start[k]; e < extra.rows.start[k + 1]; e++) {
      sum += extra.rows.value[e] * z[extra.rows.index[e]];
    }
    evidence += (sum / extra.sigma[k]) ** 2;
  }
  network.table.list.forEach(({ role }, p) => {
    const part = priorWeight[p] * z[p] ** 2;
    if (role === 'evidence') evidence += part;
    else camera += part;
  });
  return { photos, marks, evidence, camera };
}
