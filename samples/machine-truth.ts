/** The true values of what a measurement reports, worked out from the chosen machine errors. */

import type { Stroke } from '../shared/stroke.js';
import { type DriftTruth, driftTruth } from './drift-truth.js';
import {
  curveValue,
  gridLines,
  type LineDeviation,
  lineDeviation,
  type MachineErrors,
  type SmoothCurve,
} from './machine-errors.js';

export interface MachineTruth {
  /** rad, + : the Y axis leans toward +X; against the mean direction of X travel. */
  readonly squareness: number;
  readonly scale: { readonly x: number; readonly y: number; readonly ratio: number };
  /** mm. */
  readonly lostMotion: { readonly x: number; readonly y: number };
  /** mm, peak to valley about the least-squares line, of X motion and of Y motion. */
  readonly straightness: { readonly x: number; readonly y: number };
  /** Slope of the yaw, rad per metre of gantry travel. */
  readonly racking: number;
  /** Error that repeats with a turn of the drive: amplitude and period, mm; absent where there is none. */
  readonly periodic: { readonly x?: PeriodicTruth; readonly y?: PeriodicTruth };
  /** Marks made again against the first ones, mm. */
  readonly drift: DriftTruth;
  /** What is left of each grid line's position after the slope; mm, one value per line. */
  readonly lineDeviationsX: readonly { readonly atMm: number; readonly deviationMm: number }[];
  readonly lineDeviationsY: readonly { readonly atMm: number; readonly deviationMm: number }[];
  /**
   * Gauge: the slopes below are least-squares over the positions of the marked grid's lines. A
   * deviation's slope is counted as scale or squareness, and what the X guide's slope or a constant
   * yaw turns is the datum itself, so that squareness takes it up.
   */
  readonly gauge: {
    readonly slopeOfPositionX: number;
    readonly slopeOfPositionY: number;
    readonly slopeOfStraightnessX: number;
    readonly slopeOfStraightnessY: number;
    readonly meanYawRad: number;
  };
}

export interface PeriodicTruth {
  readonly amplitude: number;
  readonly period: number;
}

/** Samples along a travel from which peak and valley of a smooth curve are read. */
const SAMPLES_OF_A_CURVE = 2001;

/**
 * The achieved values over the marked grid.
 *
 * Small angles: products of two errors (1e-6 at 1 mm/m) are left out.
 */
export function machineTruth(errors: MachineErrors, strokes: readonly Stroke[]): MachineTruth {
  const { xMm, yMm } = gridLines(strokes);
  const travelMm = errors.gantryAxis === 'y' ? yMm : xMm;
  const positionX = fitOverLines(xMm, (x) => lineDeviation(errors.positionX, x));
  const positionY = fitOverLines(yMm, (y) => lineDeviation(errors.positionY, y));
  const guideX = fitOverLines(xMm, (x) => curveValue(errors.straightnessX, x));
  const guideY = fitOverLines(yMm, (y) => curveValue(errors.straightnessY, y));
  const yaw = fitOverLines(travelMm, (at) => curveValue(errors.yaw, at));

  // A gantry along Y carries X travel with it: its mean yaw turns the datum, as the guide's slope does.
  // A gantry along X carries Y travel with it: its mean yaw turns the Y axis back.
  const datumTurn = guideX.slope + (errors.gantryAxis === 'y' ? yaw.mean : 0);
  const axisTurn = guideY.slope - (errors.gantryAxis === 'x' ? yaw.mean : 0);
  const scaleX = errors.scaleX + positionX.slope;
  const scaleY = errors.scaleY + positionY.slope;
  return {
    squareness: errors.squarenessRad + axisTurn + datumTurn,
    scale: { x: scaleX, y: scaleY, ratio: (1 + scaleX) / (1 + scaleY) - 1 },
    lostMotion: { x: errors.lostMotionXMm, y: errors.lostMotionYMm },
    straightness: {
      x: peakToValley(errors.straightnessX, xMm, guideX.slope),
      y: peakToValley(errors.straightnessY, yMm, guideY.slope),
    },
    racking: yaw.slope * 1000,
    periodic: {
      ...periodicTruth('x', errors.positionX),
      ...periodicTruth('y', errors.positionY),
    },
    drift: driftTruth(errors, strokes),
    lineDeviationsX: residuals(xMm, errors.positionX, positionX),
    lineDeviationsY: residuals(yMm, errors.positionY, positionY),
    gauge: {
      slopeOfPositionX: positionX.slope,
      slopeOfPositionY: positionY.slope,
      slopeOfStraightnessX: guideX.slope,
      slopeOfStraightnessY: guideY.slope,
      meanYawRad: yaw.mean,
    },
  };
}

function periodicTruth(axis: 'x' | 'y', { periodic }: LineDeviation) {
  if (periodic === undefined) return {};
  return { [axis]: { amplitude: periodic.amplitudeMm, period: periodic.periodMm } };
}

interface LineFit {
  readonly mean: number;
  readonly slope: number;
  readonly centreMm: number;
}

function fitOverLines(atMm: readonly number[], valueAt: (atMm: number) => number): LineFit {
  const count = atMm.length;
  if (count === 0) return { mean: 0, slope: 0, centreMm: 0 };
  const centreMm = atMm.reduce((sum, at) => sum + at, 0) / count;
  const values = atMm.map(valueAt);
  const mean = values.reduce((sum, value) => sum + value, 0) / count;
  let product = 0;
  let square = 0;
  atMm.forEach((at, i) => {
    product += (at - centreMm) * ((values[i] as number) - mean);
    square += (at - centreMm) ** 2;
  });
  return { mean, slope: square > 0 ? product / square : 0, centreMm };
}

function residuals(atMm: readonly number[], deviation: LineDeviation, fit: LineFit) {
  return atMm.map((at) => ({
    atMm: at,
    deviationMm: lineDeviation(deviation, at) - fit.mean - fit.slope * (at - fit.centreMm),
  }));
}

function peakToValley(curve: SmoothCurve, atMm: readonly number[], slope: number): number {
  const from = atMm[0] ?? 0;
  const to = atMm[atMm.length - 1] ?? 0;
  let peak = Number.NEGATIVE_INFINITY;
  let valley = Number.POSITIVE_INFINITY;
  for (let i = 0; i < SAMPLES_OF_A_CURVE; i++) {
    const at = from + ((to - from) * i) / (SAMPLES_OF_A_CURVE - 1);
    const value = curveValue(curve, at) - slope * at;
    peak = Math.max(peak, value);
    valley = Math.min(valley, value);
  }
  return peak - valley;
}
