/** What the evidence fixes and what it does not, by the information matrix alone. */

import { invertNormal, quadraticForm } from '../numerics/index.js';
import type { Adjustment } from './adjust.js';

export type State = 'measured' | 'weak' | 'undetermined';

export interface Reach {
  readonly state: State;
  /** Standard uncertainty with all priors. */
  readonly u: number;
  /** The same without the priors on machine terms; and without those on the shared camera as well. */
  readonly uWithoutMachinePriors: number;
  readonly uWithoutCameraPriors: number;
}

export interface Judge {
  /** @param weakLimit largest u with which a value held up by camera priors is still shown. */
  reach(gradient: Float64Array, weakLimit: number): Reach;
}

/**
 * Share of the scaled diagonal that keeps the matrices without priors invertible. A direction that
 * nothing fixes then shows an uncertainty some 30 000 times that of its own observations.
 */
const RIDGE = 1e-9;
/** Without its priors a fixed quantity loses little; one that leant on them loses far more than this. */
const MOST_LOSS = 2;

export function makeJudge(adjustment: Adjustment): Judge {
  const { network, covariance, priorWeight, information } = adjustment;
  const { list } = network.table;
  const n = list.length;
  const without = (roles: readonly string[]): Float64Array | undefined => {
    const matrix = information.slice();
    for (let p = 0; p < n; p++) {
      if (!roles.includes(list[p].role)) matrix[p * n + p] += priorWeight[p];
    }
    for (let p = 0; p < n; p++) {
      const diagonal = matrix[p * n + p];
      matrix[p * n + p] = diagonal > 0 ? diagonal * (1 + RIDGE) : 1;
    }
    return invertNormal(matrix, n);
  };
  const machineFree = without(['machine']);
  const cameraFree = without(['machine', 'sharedCamera']);
  const focalKnown = network.input.cameras.every((camera) => camera.focalLengthPx !== undefined);
  const sigma = (matrix: Float64Array | undefined, gradient: Float64Array) =>
    matrix === undefined ? Number.POSITIVE_INFINITY : Math.sqrt(quadraticForm(matrix, gradient));
  return {
    reach(gradient, weakLimit) {
      const u = sigma(covariance, gradient);
      const uWithoutMachinePriors = sigma(machineFree, gradient);
      const uWithoutCameraPriors = sigma(cameraFree, gradient);
      let state: State = 'undetermined';
      if (uWithoutCameraPriors <= MOST_LOSS * u) state = 'measured';
      else if (focalKnown && uWithoutMachinePriors <= MOST_LOSS * u && u < weakLimit) state = 'weak';
      return { state, u, uWithoutMachinePriors, uWithoutCameraPriors };
    },
  };
}
