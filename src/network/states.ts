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
import { isCameraFree, turnsInPhotos } from './placement-turns.js';

export type State = 'measured' | 'weak' | 'undetermined';

/** 0 for the best. */
export function rankOf(state: State): number {
  return ['measured', 'weak', 'undetermined'].indexOf(state);
}

export interface Reach {
  readonly state: State;
  /** Standard uncertainty with all priors; where evidence speaks for itself, without those on the camera. */
  readonly u: number;
  /** What the value has to be changed by to stand on the same ground as u. */
  readonly shift: number;
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
const WIDENING = 30;
/**
 * Evidence that is poorer than what is believed of the camera, such as taped diagonals, still holds a quantity
 * by itself: then what is lost when priors go stays lost however far they are widened, and no more; and without
 * that evidence far more would be lost.
 */
const WIDENING_MORE = 100;
/** Without its priors a fixed quantity loses little; one that leant on them loses far more than this. */
export const MOST_LOSS = 1.5;
/**
 * Coarser than so many of the limits below which a weak value is shown, it is better told as weak: tilts alone
 * would else hold a scale within some millimetres per metre, by chance.
 */
const MOST_USEFUL = 2;
/**
 * Half a turn that is a degree off, or a board laid back askew, tells squareness and ratio to this, 0.25 mm/m, by
 * what a believed camera's lens leaves: too little for more than to mislead.
 */
const TURN_LIMIT = 2.5e-4;
/** A quantity with a nominal value must be known this many times better than any machine keeps it anyway. */
const LEAST_GAIN = 5;

export function makeJudge(adjustment: Adjustment): Judge {
  const { network, covariance, priorWeight, information } = adjustment;
  const { machine } = network;
  const { list } = network.table;
  const n = list.length;
  // Terms with a nominal value of zero; the sizes of the others are estimated from the data.
  const nominal = new Set(
    network.machineAt.flatMap((at) =>
      [
        COMMON_SCALE,
        SCALE_DIFFERENCE,
        SQUARENESS,
        LOST_MOTION_X,
        LOST_MOTION_Y,
        ...machine.index.yaw.slice(0, 1),
      ].map((term) => at[term]),
    ),
  );
  // The half of itself that an unknown focal length may be off is no belief that could be taken away.
  const unknownFocals = new Set(
    network.cameraAt.filter((_, i) => network.input.cameras[i].focalLengthPx === undefined),
  );
  // What was estimated too small, from photos that hardly show it, is no ground to stand on: widened from what
  // was believed before.
  const freeWeight = (p: number) => 1 / Math.max(list[p].priorSigma, list[p].believedSigma) ** 2;
  const known = new Map<string, Float64Array | undefined>();
  const isWide = (p: number, own: readonly number[], camera: boolean) => {
    const { role } = list[p];
    return (
      nominal.has(p) ||
      own.includes(p) ||
      (camera &&
        (role === 'sharedCamera' || role === 'distortion' || role === 'warp') &&
        !unknownFocals.has(p))
    );
  };
  const without = (
    own: readonly number[],
    camera: boolean,
    widening = WIDENING,
    evidence = true,
  ): Float64Array | undefined => {
    const key = `${camera} ${widening} ${evidence} ${own.join(' ')}`;
    if (known.has(key)) return known.get(key);
    const matrix = evidence ? information.slice() : withoutEvidence(adjustment);
    for (let p = 0; p < n; p++) {
      matrix[p * n + p] += isWide(p, own, camera) ? freeWeight(p) / widening ** 2 : priorWeight[p];
    }
    const inverse = invertNormal(matrix, n);
    known.set(key, inverse);
    return inverse;
  };
  /** Change of the quantity where the widened priors let go: gᵀ C' (w − w')(x − mean). */
  const letGo = (inverse: Float64Array, gradient: Float64Array, own: readonly number[]) => {
    let shift = 0;
    for (let p = 0; p < n; p++) {
      if (!isWide(p, own, true)) continue;
      let by = 0;
      for (let q = 0; q < n; q++) by += gradient[q] * inverse[q * n + p];
      const pull = priorWeight[p] * (adjustment.state.values[p] - list[p].priorMean);
      shift += by * pull * (1 - 1 / WIDENING_MORE ** 2);
    }
    return shift;
  };
  const severalPlacements = turnsInPhotos(network.input).length > 1;
  const lengths = network.input.evidence.filter(({ kind }) => kind !== 'square').length;
  const sigma = (matrix: Float64Array | undefined, gradient: Float64Array) =>
    matrix === undefined ? Number.POSITIVE_INFINITY : Math.sqrt(quadraticForm(matrix, gradient));
  const focalKnown =
    isCameraFree(network.input) ||
    network.input.cameras.every((camera) => camera.focalLengthPx !== undefined);
  return {
    reach(gradient, own, weakLimit) {
      const u = Math.sqrt(quadraticForm(covariance, gradient));
      const [uWithoutMachinePriors, uWithoutCameraPriors] = [false, true].map((camera) =>
        sigmaWithout(
          without([], camera),
          gradient,
          own,
          (p) => priorWeight[p] - freeWeight(p) / WIDENING ** 2,
        ),
      );
      // What every machine that marks a grid keeps, by the priors alone.
      let usual = 0;
      for (const p of nominal) usual += gradient[p] ** 2 * list[p].priorSigma ** 2;
      const isTold = (by: number) => usual === 0 || LEAST_GAIN * by <= Math.sqrt(usual);
      const told = isTold(u);
      const uOfCamera = { uWithoutMachinePriors, uWithoutCameraPriors };
      // One length alone always lifts the scales, and says nothing of what the camera holds of their ratio.
      const mayStand = gradient[COMMON_SCALE] === 0 || lengths > 1;
      if (
        mayStand &&
        told &&
        uWithoutMachinePriors <= MOST_LOSS * u &&
        uWithoutCameraPriors > MOST_LOSS * u
      ) {
        const inverse = without(own, true, WIDENING_MORE);
        const byItself = sigma(inverse, gradient);
        const lacking = without(own, true, WIDENING_MORE, false);
        if (
          inverse !== undefined &&
          lacking !== undefined &&
          byItself <= MOST_USEFUL * weakLimit &&
          byItself <= MOST_LOSS * uWithoutCameraPriors &&
          isTold(byItself) &&
          sigma(lacking, gradient) > MOST_LOSS * byItself
        ) {
          const shift = letGo(inverse, gradient, own);
          return { state: 'measured', u: byItself, shift, ...uOfCamera };
        }
      }
      let state: State = 'undetermined';
      const isAskew = u > TURN_LIMIT && severalPlacements && isOfShape(gradient);
      if (!told) state = 'undetermined';
      else if (uWithoutCameraPriors <= MOST_LOSS * u && !isAskew) state = 'measured';
      else if (focalKnown && uWithoutMachinePriors <= MOST_LOSS * u && u < weakLimit)
        state = 'weak';
      return { state, u, shift: 0, ...uOfCamera };
    },
  };
}

/** Whether a quantity is squareness or the ratio of the scales, not a scale itself. */
function isOfShape(gradient: Float64Array): boolean {
  return (
    gradient[COMMON_SCALE] === 0 && (gradient[SQUARENESS] !== 0 || gradient[SCALE_DIFFERENCE] !== 0)
  );
}

/** The information of photos and gauge alone, row by row less that of the evidence. */
function withoutEvidence({ information, linearised, network }: Adjustment): Float64Array {
  const { rows, sigma, source } = linearised.extra;
  const n = network.table.size;
  const rest = information.slice();
  source.forEach((item, k) => {
    if (item < 0) return;
    const weight = 1 / sigma[k] ** 2;
    for (let a = rows.start[k]; a < rows.start[k + 1]; a++) {
      for (let b = rows.start[k]; b < rows.start[k + 1]; b++) {
        rest[rows.index[a] * n + rows.index[b]] -= weight * rows.value[a] * rows.value[b];
      }
    }
  });
  return rest;
}

/**
 * Standard uncertainty with the priors of some parameters widened as well: the inverse is changed by as
 * many ranks (Woodbury's identity), which is far less work than another inverse.
 */
function sigmaWithout(
  inverse: Float64Array | undefined,
  gradient: Float64Array,
  own: readonly number[],
  takenAway: (parameter: number) => number,
): number {
  if (inverse === undefined) return Number.POSITIVE_INFINITY;
  const n = gradient.length;
  const size = own.length;
  const across = new Float64Array(size);
  const left = new Float64Array(size * size);
  own.forEach((p, i) => {
    for (let q = 0; q < n; q++) across[i] += inverse[p * n + q] * gradient[q];
    for (let j = 0; j <= i; j++) left[i * size + j] = -inverse[p * n + own[j]];
    left[i * size + i] += 1 / takenAway(p);
  });
  if (!factorise(left, size)) return Number.POSITIVE_INFINITY;
  let square = quadraticForm(inverse, gradient);
  for (const part of forwardSubstitute(left, size, across)) square += part ** 2;
  return Math.sqrt(square);
}
