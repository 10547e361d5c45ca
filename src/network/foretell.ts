/**
 * What an adjustment will reach, from the network alone: weights and derivatives need no data, so that
 * states, uncertainties and their shares come from the same matrices as those of a measurement.
 */

import type { Adjustment } from './adjust.js';
import { linearise } from './linearise.js';
import type { Network, NetworkState } from './network.js';
import { solve } from './network-equations.js';
import { isKept, type Stochastic } from './stochastic.js';

/**
 * The adjustment of observations that lie exactly where the state puts them. Nothing is iterated: the
 * sizes of the priors (in the network's table) and the weights are taken as given.
 *
 * @returns undefined where the matrices are singular.
 */
export function foretell(
  network: Network,
  state: NetworkState,
  stochastic: Stochastic,
): Adjustment | undefined {
  const { input, table } = network;
  const linearised = linearise(network, state);
  const solution = solve(network, linearised, stochastic);
  if (solution === undefined) return undefined;
  const { covariance, priorWeight } = solution;
  // Each unknown takes from the redundancy what it does not owe to its prior.
  let redundancy = linearised.extra.residual.length;
  input.observations.forEach((_, i) => {
    if (isKept(input, stochastic, i)) redundancy++;
  });
  for (let p = 0; p < table.size; p++) {
    redundancy -= 1 - priorWeight[p] * covariance[p * table.size + p];
  }
  return {
    network,
    state,
    linearised,
    stochastic,
    ...solution,
    offsetsMm: new Float64Array(input.segments.length),
    residualPx: new Float64Array(input.observations.length),
    evidence: input.evidence.map(() => ({ residual: 0, redundancy: 0, sigma: 1 })),
    redundancy,
    varianceFactor: 1,
    iterations: 0,
    misfit: 0,
  };
}
