/** Where a machine with chosen errors really puts the marks of a program. */

import type { Approach, Stroke } from '../shared/stroke.js';

/** A smooth function over a travel: sum of c[k] P_k(t), Legendre, t from -1 to 1 over the range. */
export interface SmoothCurve {
  readonly fromMm: number;
  readonly toMm: number;
  /** Coefficients from order 0; mm for straightness, rad for yaw. Empty: zero everywhere. */
  readonly legendre: readonly number[];
}

/** Deviation of single positions of an axis: a table, straight between its entries, and a sine. */
export interface LineDeviation {
  readonly atMm: readonly number[];
  readonly deviationMm: readonly number[];
  readonly periodic?: {
    readonly amplitudeMm: number;
    readonly periodMm: number;
    readonly phaseRad: number;
  };
}

export interface MachineErrors {
  /** (true - commanded) / commanded; + travels too far. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** + : the Y axis leans toward +X. */
  readonly squarenessRad: number;
  /** + : the carriage lags the command. */
  readonly lostMotionXMm: number;
  readonly lostMotionYMm: number;
  /** Change of the gantry's lost motion along the beam, mm per mm from the drives' middle. */
  readonly lostMotionGradient: number;
  readonly positionX: LineDeviation;
  readonly positionY: LineDeviation;
  /** Straightness of X motion: deviation in Y as a function of x; mm. */
  readonly straightnessX: SmoothCurve;
  /** Straightness of Y motion: deviation in X as a function of y; mm. */
  readonly straightnessY: SmoothCurve;
  /** Yaw of the gantry along its travel; rad, anticlockwise seen from above. */
  readonly yaw: SmoothCurve;
  /** The axis along which the gantry travels. */
  readonly gantryAxis: 'x' | 'y';
  /** How far X and Y have crept from the first mark of the program to its last, evenly; mm. */
  readonly driftXMm?: number;
  readonly driftYMm?: number;
  /** Midway between the gantry's two drives, on the axis of the beam; mm. */
  readonly drivesMiddleMm: number;
}

/**
 * Where the mark's centre lands on the board.
 *
 * @param xMm commanded position; mm.
 * @param approachX sense of the last motion; 0 (never moved) stands midway in the lost motion.
 * @param elapsed how much of the program is done, 0 to 1.
 * @returns true position [X, Y]; mm, board frame.
 */
export function landedPosition(
  errors: MachineErrors,
  xMm: number,
  yMm: number,
  approachX: Approach,
  approachY: Approach,
  elapsed = 0,
): [number, number] {
  // Lost motion first: the carriage stands short of the command, on the side it came from.
  const beam = (errors.gantryAxis === 'y' ? xMm : yMm) - errors.drivesMiddleMm;
  const extra = errors.lostMotionGradient * beam;
  const lostX = errors.lostMotionXMm + (errors.gantryAxis === 'x' ? extra : 0);
  const lostY = errors.lostMotionYMm + (errors.gantryAxis === 'y' ? extra : 0);
  let trueX = xMm - 0.5 * approachX * lostX;
  let trueY = yMm - 0.5 * approachY * lostY;

  // Then each axis by itself: its scale and its line's own deviation.
  trueX += xMm * errors.scaleX + lineDeviation(errors.positionX, xMm);
  trueY += yMm * errors.scaleY + lineDeviation(errors.positionY, yMm);

  // Then what one axis does to the other: lean, guides that are not straight, a gantry that yaws.
  trueX += errors.squarenessRad * yMm + curveValue(errors.straightnessY, yMm);
  trueY += curveValue(errors.straightnessX, xMm);
  if (errors.gantryAxis === 'y') trueY += beam * curveValue(errors.yaw, yMm);
  else trueX -= beam * curveValue(errors.yaw, xMm);
  return [trueX + elapsed * (errors.driftXMm ?? 0), trueY + elapsed * (errors.driftYMm ?? 0)];
}

/** Value of a smooth function; continues as the same polynomial outside its range. */
export function curveValue(curve: SmoothCurve, atMm: number): number {
  const { legendre } = curve;
  if (legendre.length === 0) return 0;
  const t = (2 * atMm - curve.fromMm - curve.toMm) / (curve.toMm - curve.fromMm);
  let previous = 1;
  let current = t;
  let sum = legendre[0] ?? 0;
  for (let k = 1; k < legendre.length; k++) {
    sum += (legendre[k] ?? 0) * current;
    // (k + 1) P_{k+1} = (2 k + 1) t P_k - k P_{k-1}
    [previous, current] = [current, ((2 * k + 1) * t * current - k * previous) / (k + 1)];
  }
  return sum;
}

/** Value of a line deviation; constant beyond the ends of its table. */
export function lineDeviation(deviation: LineDeviation, atMm: number): number {
  const { periodic } = deviation;
  const sine = periodic
    ? periodic.amplitudeMm * Math.sin((2 * Math.PI * atMm) / periodic.periodMm + periodic.phaseRad)
    : 0;
  return sine + tableValue(deviation.atMm, deviation.deviationMm, atMm);
}

/**
 * The commanded positions of the grid's own lines: those at constant X and those at constant Y.
 * A line counts when its strokes together are at least a third as long as the longest of its kind,
 * which leaves out ticks and arrows.
 */
export function gridLines(strokes: readonly Stroke[]): { xMm: number[]; yMm: number[] } {
  return { xMm: longLines(strokes, 0), yMm: longLines(strokes, 1) };
}

function longLines(strokes: readonly Stroke[], axis: 0 | 1): number[] {
  const lengthAt = new Map<number, number>();
  const other = axis === 0 ? 1 : 0;
  for (const { fromMm, toMm } of strokes) {
    if (Math.abs(fromMm[axis] - toMm[axis]) > 1e-6) continue;
    const key = Math.round(fromMm[axis] * 1e6) / 1e6;
    const length = Math.abs(toMm[other] - fromMm[other]);
    lengthAt.set(key, (lengthAt.get(key) ?? 0) + length);
  }
  const longest = Math.max(0, ...lengthAt.values());
  return [...lengthAt]
    .filter(([, length]) => length > longest / 3)
    .map(([position]) => position)
    .sort((a, b) => a - b);
}

function tableValue(at: readonly number[], values: readonly number[], position: number): number {
  const count = at.length;
  if (count === 0) return 0;
  const first = at[0] as number;
  const last = at[count - 1] as number;
  if (position <= first) return values[0] as number;
  if (position >= last) return values[count - 1] as number;
  let low = 0;
  let high = count - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((at[middle] as number) <= position) low = middle;
    else high = middle;
  }
  const left = at[low] as number;
  const share = (position - left) / ((at[high] as number) - left);
  return (1 - share) * (values[low] as number) + share * (values[high] as number);
}
