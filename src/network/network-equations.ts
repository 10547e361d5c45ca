/** The equations of a network at a state: sum of weighted squares, normal equations, covariance, likelihood. */

import { invertNormal, NormalEquations } from '../numerics/index.js';
import type { Linearised } from './linearise.js';
import type { Network, NetworkState } from './network.js';
import { type Stochastic, segmentSums, weightOf } from './stochastic.js';
import { CRITICAL } from './variance-components.js';

export function costOf(
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

/** Segments whose rows are added before their offsets are eliminated: at least so many, and in at most so many parts. */
const SEGMENTS_TOGETHER = 16;
const MOST_PARTS = 128;

function isSeenOnce({ input, observationsOf }: Network, segment: number): boolean {
  return observationsOf[segment].length === 1 && input.segments[segment].pair === undefined;
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
  // The segment that touched a parameter last, counted from 1. No tiny number stands for a sum that cancels to
  // nothing: products of such numbers take a processor fifty times as long as others.
  const touchedBy = new Int32Array(table.size);
  const weights = new Float64Array(residual.length);
  // Rows and what the offsets take from them nearly cancel in some directions: both together, or digits are lost.
  const part = Math.max(SEGMENTS_TOGETHER, Math.ceil(observations.length / MOST_PARTS));
  for (let from = 0; from < observations.length; from += part) {
    const to = Math.min(observations.length, from + part);
    // Photo by photo, as the observations are listed: rows of one photo hold the same parameters.
    const together = Int32Array.from(observations.slice(from, to).flat()).sort();
    for (const i of together) weights[i] = weightOf(input, stochastic, i);
    for (let j = from; j < to; j++) {
      if (!isSeenOnce(network, j)) continue;
      // Its offset only takes weight from it.
      const [i] = observations[j];
      weights[i] *= 1 - (weights[i] * byOffset[i] ** 2) / pivot[j];
    }
    for (const i of together) {
      if (weights[i] > 0) system.addRow(rows, i, residual[i], weights[i]);
    }
    for (let j = from; j < to; j++) {
      if (isSeenOnce(network, j)) continue;
      const { pair } = input.segments[j];
      let count = 0;
      for (const i of observations[j]) {
        const w = weights[i];
        if (w === 0) continue;
        const wh = w * byOffset[i];
        for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
          const p = rows.index[e];
          if (touchedBy[p] !== j + 1) {
            touchedBy[p] = j + 1;
            touched[count++] = p;
          }
          coupling[p] += wh * rows.value[e];
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
    system.settle();
  }
  for (let k = 0; k < extra.residual.length; k++) {
    system.addRow(extra.rows, k, extra.residual[k], 1 / extra.sigma[k] ** 2);
  }
  return system;
}

export function normalEquations(
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

/** Weighted squares plus the logarithms of the variances they were weighted by, offsets integrated out. */
export function misfitOf(
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
