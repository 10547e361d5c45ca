/** What the evidence fixes and what it does not, by the information matrix alone. */

import {
  COMMON_SCALE,
  LOST_MOTION_X,
  LOST_MOTION_Y,
  SCALE_DIFFERENCE,
  SQUARENESS,
} from '../machine/index.js';
import { factorise, forwardSubstitute, invertNormal, quadraticForm } from '../numerics/index.js';
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
  /**
   * @param own parameters of the quantity itself whose size was estimated: their priors go as well.
   * @param weakLimit largest u with which a value held up by camera priors is still shown.
   */
  reach(gradient: Float64Array, own: readonly number[], weakLimit: number): Reach;
}

/**
 * Priors are taken away by widening them this much: what leans on them widens along, and the matrix
 * stays regular where nothing at all fixes a direction. Far wider, and unknowns that no camera can have
 * (a focal length of minus fifty times itself) would leak into quantities they hardly touch.
 */
const WIDENING = 10;
/** Without its priors a fixed quantity loses little; one that leant on them loses far more than this. */
const MOST_LOSS = 1.5;
/** A quantity with a nominal value must be known this many times better than any machine keeps it anyway. */
const LEAST_GAIN = 5;

export function makeJudge(adjustment: Adjustment): Judge {
  const { network, covariance, priorWeight, information } = adjustment;
  const { machine } = network;
  const { list } = network.table;
  const n = list.length;
  // Terms with a nominal value of zero; the sizes of the others are estimated from the data.
  const nominal = new Set([
    COMMON_SCALE,
    SCALE_DIFFERENCE,
    SQUARENESS,
    LOST_MOTION_X,
    LOST_MOTION_Y,
    ...machine.index.yaw.slice(0, 1),
  ]);
  // The half of itself that an unknown focal length may be off is no belief that could be taken away.
  const unknownFocals = new Set(
    network.cameraAt.filter((_, i) => network.input.cameras[i].focalLengthPx === undefined),
  );
  const widened = [false, true].map((camera) => {
    let inverse: Float64Array | undefined;
    let isKnown = false;
    return (): Float64Array | undefined => {
      if (isKnown) return inverse;
      isKnown = true;
      const matrix = information.slice();
      for (let p = 0; p < n; p++) {
        const { role } = list[p];
        const wide =
          nominal.has(p) ||
          (camera && (role === 'sharedCamera' || role === 'distortion') && !unknownFocals.has(p));
        matrix[p * n + p] += wide ? priorWeight[p] / WIDENING ** 2 : priorWeight[p];
      }
      inverse = invertNormal(matrix, n);
      return inverse;
    };
  });
  const focalKnown = network.input.cameras.every((camera) => camera.focalLengthPx !== undefined);
  return {
    reach(gradient, own, weakLimit) {
      const u = Math.sqrt(quadraticForm(covariance, gradient));
      const [uWithoutMachinePriors, uWithoutCameraPriors] = widened.map((inverse) =>
        sigmaWithout(inverse(), n, gradient, own, priorWeight),
      );
      // What every machine that marks a grid keeps, by the priors alone.
      let usual = 0;
      for (const p of nominal) usual += gradient[p] ** 2 * list[p].priorSigma ** 2;
      const told = usual === 0 || LEAST_GAIN * u <= Math.sqrt(usual);
      let state: State = 'undetermined';
      if (!told) state = 'undetermined';
      else if (uWithoutCameraPriors <= MOST_LOSS * u) state = 'measured';
      else if (focalKnown && uWithoutMachinePriors <= MOST_LOSS * u && u < weakLimit)
        state = 'weak';
      return { state, u, uWithoutMachinePriors, uWithoutCameraPriors };
    },
  };
}

/**
 * Standard uncertainty with the priors of some parameters widened as well: the inverse is changed by as
 * many ranks (Woodbury's identity), which is far less work than another inverse.
 */
function sigmaWithout(
  inverse: Float64Array | undefined,
  n: number,
  gradient: Float64Array,
  own: readonly number[],
  priorWeight: Float64Array,
): number {
  if (inverse === undefined) return Number.POSITIVE_INFINITY;
  const size = own.length;
  const across = new Float64Array(size);
  const left = new Float64Array(size * size);
  own.forEach((p, i) => {
    for (let q = 0; q < n; q++) across[i] += inverse[p * n + q] * gradient[q];
    for (let j = 0; j <= i; j++) left[i * size + j] = -inverse[p * n + own[j]];
    left[i * size + i] += 1 / (priorWeight[p] * (1 - 1 / WIDENING ** 2));
  });
  if (!factorise(left, size)) return Number.POSITIVE_INFINITY;
  let square = quadraticForm(inverse, gradient);
  for (const part of forwardSubstitute(left, size, across)) square += part ** 2;
  return Math.sqrt(square);
}
