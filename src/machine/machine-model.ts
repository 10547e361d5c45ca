/**
 * The machine's error model: where a mark lands on the board for a commanded position, with the
 * derivatives by every machine term.
 *
 *   X = (1 + g) [ x (1 + d) + s y + pX(x) + qX(y)             - dx Bx / 2 ]
 *   Y = (1 + g) [ y (1 - d)       + pY(y) + qY(x) + yaw(x, y) - dy By / 2 ]
 *
 * p is what positioning leaves after the slope: a smooth progressive part and one value per line.
 * g is the common scale, d half the difference of the axes' scales: without a known length only g
 * is open, and every other term keeps its meaning. Signs and terms after ISO 230-1:2012: g ± d is
 * the slope of EXX and EYY, s = -E(C0Y), q the straightness EXY and EYX, the yaw ECY.
 */

import { type OrthogonalPolynomials, orthogonalPolynomials } from '../numerics/index.js';

export type Axis = 'x' | 'y';
export type GantryAxis = 'x' | 'y' | 'none';

export interface MachineLayout {
  /** Commanded positions of the lines at constant X and at constant Y, mm, ascending. */
  readonly linesAtX: readonly number[];
  readonly linesAtY: readonly number[];
  /** Places of rungs, short marks between the lines, at constant X and at constant Y; mm. */
  readonly rungsAtX?: readonly number[];
  readonly rungsAtY?: readonly number[];
  /** Lengths after which the drives' errors repeat, where they are known; mm. */
  readonly periodsMm?: { readonly x?: number; readonly y?: number };
  /** The axis along which the gantry travels. */
  readonly gantryAxis: GantryAxis;
}

export type MachineTermKind =
  | 'commonScale'
  | 'scaleDifference'
  | 'squareness'
  | 'lostMotion'
  | 'straightness'
  | 'progression'
  | 'yaw'
  | 'line'
  | 'rung'
  | 'periodic'
  | 'drift';

export interface MachineTerm {
  readonly name: string;
  readonly kind: MachineTermKind;
  /** Standard deviation of the weak prior that keeps the adjustment regular; ratio, rad or mm. */
  readonly priorSigma: number;
}

/** Receives one derivative: index of the machine term and the value. */
export type DerivativeSink = (term: number, value: number) => void;

export type ShapeKind = 'straightnessX' | 'straightnessY' | 'progressionX' | 'progressionY' | 'yaw';

export interface MachineModel {
  readonly layout: MachineLayout;
  readonly terms: readonly MachineTerm[];
  /** Indices of the shapes' terms by rising degree, and of the first line of each axis. */
  readonly index: {
    readonly straightnessX: readonly number[];
    readonly straightnessY: readonly number[];
    readonly progressionX: readonly number[];
    readonly progressionY: readonly number[];
    readonly yaw: readonly number[];
    readonly lineX: number;
    readonly lineY: number;
    /** First rung of each axis: its terms follow on those of the lines in what `line` counts. */
    readonly rungX: number;
    readonly rungY: number;
    /** Cosine and sine of the drives' periods; empty where a period is not known. */
    readonly periodicX: readonly number[];
    readonly periodicY: readonly number[];
    /** Shift of marks that were made once more against the first ones, along X and along Y. */
    readonly driftX: number;
    readonly driftY: number;
    /** Shift of all rungs of an axis against its lines: they are marked at another time. */
    readonly ladderX: number;
    readonly ladderY: number;
  };
  /** Deviation in X (mm) left after scale and squareness by straightness of Y motion at y. */
  straightnessInX(parameters: Float64Array, yMm: number): number;
  /** Deviation in Y (mm) by straightness of X motion at x. */
  straightnessInY(parameters: Float64Array, xMm: number): number;
  /** Gantry yaw about its mean, rad, at a place along the gantry's travel. */
  yaw(parameters: Float64Array, placeMm: number): number;
  /** Derivative of a guide's or the yaw's deviation by the k-th term of its list. */
  shape(kind: ShapeKind, k: number, placeMm: number): number;
  /** Positioning deviation (mm) of a line after scale, with its derivatives. */
  position(axis: Axis, parameters: Float64Array, line: number, sink?: DerivativeSink): number;
  /**
   * True position across a line: X of a mark at constant X, Y of one at constant Y, mm.
   *
   * @param line index of the line in `linesAtX` or `linesAtY`, or behind them of the rung; undefined:
   * between the lines.
   * @param approach sense of the last motion along the axis; 0: the mean of both.
   * @param isRepeated the mark was made once more at the end.
   */
  across(
    axis: Axis,
    parameters: Float64Array,
    xMm: number,
    yMm: number,
    line: number | undefined,
    approach: number,
    sink?: DerivativeSink,
    isRepeated?: boolean,
  ): number;
}

/** Terms at fixed places of the list. */
export const COMMON_SCALE = 0;
export const SCALE_DIFFERENCE = 1;
export const SQUARENESS = 2;
export const LOST_MOTION_X = 3;
export const LOST_MOTION_Y = 4;

/**
 * Highest degree of the straightness and yaw shapes. Six bends along the travel follow a bent rail
 * or beam; what is finer than that shows as deviation of single lines.
 */
const SHAPE_DEGREE = 6;

/** Wide enough for any machine that still marks a recognisable grid. */
const PRIOR_SIGMA = { scale: 0.05, squareness: 0.05, lostMotionMm: 2 } as const;
/** First guess of the size of what varies along a travel, re-estimated from the data. */
const SHAPE_SIGMA = {
  straightnessMm: 0.1,
  progressionMm: 0.02,
  yawRad: 2e-4,
  lineMm: 0.05,
  periodicMm: 0.05,
  driftMm: 0.2,
} as const;
/** The slope of yaw is a scale difference of the gantry's sides, not a bend: it keeps a wide prior. */
const YAW_SLOPE_SIGMA_RAD = 5e-3;

export function machineModel(layout: MachineLayout): MachineModel {
  const { linesAtX, linesAtY, gantryAxis } = layout;
  const shapeInY = orthogonalPolynomials(linesAtY, shapeDegree(linesAtY.length));
  const shapeInX = orthogonalPolynomials(linesAtX, shapeDegree(linesAtX.length));
  const yawShape = gantryAxis === 'x' ? shapeInX : shapeInY;
  const middleX = (linesAtX[0] + linesAtX[linesAtX.length - 1]) / 2;
  const middleY = (linesAtY[0] + linesAtY[linesAtY.length - 1]) / 2;

  const terms: MachineTerm[] = [
    { name: 'commonScale', kind: 'commonScale', priorSigma: PRIOR_SIGMA.scale },
    { name: 'scaleDifference', kind: 'scaleDifference', priorSigma: PRIOR_SIGMA.scale },
    { name: 'squareness', kind: 'squareness', priorSigma: PRIOR_SIGMA.squareness },
    { name: 'lostMotionX', kind: 'lostMotion', priorSigma: PRIOR_SIGMA.lostMotionMm },
    { name: 'lostMotionY', kind: 'lostMotion', priorSigma: PRIOR_SIGMA.lostMotionMm },
  ];
  const add = (name: ShapeKind, shapes: OrthogonalPolynomials) => addShapes(terms, name, shapes);
  const straightnessX = add('straightnessX', shapeInY);
  const straightnessY = add('straightnessY', shapeInX);
  const progressionX = add('progressionX', shapeInX);
  const progressionY = add('progressionY', shapeInY);
  const yaw: number[] = [];
  if (gantryAxis !== 'none') {
    for (let degree = 1; degree <= yawShape.degree; degree++) {
      yaw.push(terms.length);
      terms.push({
        name: `yaw${degree}`,
        kind: 'yaw',
        priorSigma: degree === 1 ? YAW_SLOPE_SIGMA_RAD : SHAPE_SIGMA.yawRad,
      });
    }
  }
  const lineX = terms.length;
  for (const at of linesAtX) terms.push(lineTerm('x', at));
  const lineY = terms.length;
  for (const at of linesAtY) terms.push(lineTerm('y', at));
  const { rungsAtX = [], rungsAtY = [], periodsMm = {} } = layout;
  const rungX = terms.length;
  for (const at of rungsAtX) terms.push({ ...lineTerm('x', at), kind: 'rung' });
  const rungY = terms.length;
  for (const at of rungsAtY) terms.push({ ...lineTerm('y', at), kind: 'rung' });
  const periodicX = addPeriodic(terms, 'X', periodsMm.x);
  const periodicY = addPeriodic(terms, 'Y', periodsMm.y);
  const [driftX, driftY, ladderX, ladderY] = ['driftX', 'driftY', 'ladderX', 'ladderY'].map(
    (name) => terms.push({ name, kind: 'drift', priorSigma: SHAPE_SIGMA.driftMm }) - 1,
  );
  const positioningOf: Record<Axis, Positioning> = {
    x: {
      kind: 'progressionX',
      progression: progressionX,
      lines: linesAtX,
      rungs: rungsAtX,
      firstLine: lineX,
      firstRung: rungX,
      ladder: ladderX,
      periodic: periodicX,
      wave: periodicWave(linesAtX, periodsMm.x),
    },
    y: {
      kind: 'progressionY',
      progression: progressionY,
      lines: linesAtY,
      rungs: rungsAtY,
      firstLine: lineY,
      firstRung: rungY,
      ladder: ladderY,
      periodic: periodicY,
      wave: periodicWave(linesAtY, periodsMm.y),
    },
  };

  const shape: MachineModel['shape'] = (kind, k, place) => {
    if (kind === 'yaw') return yawShape.evaluate(k + 1, place);
    return (kind === 'straightnessX' || kind === 'progressionY' ? shapeInY : shapeInX).evaluate(
      k + 2,
      place,
    );
  };
  const sumShapes = (
    kind: ShapeKind,
    list: readonly number[],
    parameters: Float64Array,
    place: number,
  ) => list.reduce((sum, term, k) => sum + parameters[term] * shape(kind, k, place), 0);

  /** What positioning leaves after the slope, mm: of a line, of a rung, or between the lines. */
  const deviate = (
    axis: Axis,
    p: Float64Array,
    place: number,
    line: number | undefined,
    sink: DerivativeSink | undefined,
  ) => {
    const { kind, progression, lines, firstLine, firstRung, ladder, periodic, wave } =
      positioningOf[axis];
    let value = 0;
    const add = (term: number, slope: number) => {
      value += p[term] * slope;
      sink?.(term, slope);
    };
    progression.forEach((term, k) => {
      add(term, shape(kind, k, place));
    });
    periodic.forEach((term, k) => {
      add(term, wave(k, place));
    });
    if (line === undefined) {
      for (const [index, share] of neighbours(lines, place)) add(firstLine + index, share);
    } else if (line < lines.length) {
      add(firstLine + line, 1);
    } else {
      add(firstRung + line - lines.length, 1);
      add(ladder, 1);
    }
    return value;
  };

  return {
    layout,
    terms,
    index: {
      straightnessX,
      straightnessY,
      progressionX,
      progressionY,
      yaw,
      lineX,
      lineY,
      rungX,
      rungY,
      periodicX,
      periodicY,
      driftX,
      driftY,
      ladderX,
      ladderY,
    },
    straightnessInX: (p, y) => sumShapes('straightnessX', straightnessX, p, y),
    straightnessInY: (p, x) => sumShapes('straightnessY', straightnessY, p, x),
    yaw: (p, place) => sumShapes('yaw', yaw, p, place),
    shape,
    position(axis, p, line, sink) {
      const { lines, rungs } = positioningOf[axis];
      const place = line < lines.length ? lines[line] : rungs[line - lines.length];
      return deviate(axis, p, place, line, sink);
    },
    across(axis, p, x, y, line, approach, sink, isRepeated) {
      const swell = 1 + p[COMMON_SCALE];
      const ownIsX = axis === 'x';
      const own = ownIsX ? x : y;
      const other = ownIsX ? y : x;
      const stretch = ownIsX ? own : -own;
      let unscaled = own + stretch * p[SCALE_DIFFERENCE];
      sink?.(SCALE_DIFFERENCE, swell * stretch);
      if (ownIsX) {
        unscaled += p[SQUARENESS] * y;
        sink?.(SQUARENESS, swell * y);
      }
      const kind = ownIsX ? 'straightnessX' : 'straightnessY';
      const shapes = ownIsX ? straightnessX : straightnessY;
      for (let k = 0; k < shapes.length; k++) {
        const value = shape(kind, k, other);
        unscaled += p[shapes[k]] * value;
        sink?.(shapes[k], swell * value);
      }
      if (gantryAxis === axis) {
        // Gantry along y: Y += (x - xm) yaw(y). Gantry along x: X -= (y - ym) yaw(x).
        const arm = ownIsX ? -(other - middleY) : other - middleX;
        for (let k = 0; k < yaw.length; k++) {
          const value = arm * shape('yaw', k, own);
          unscaled += p[yaw[k]] * value;
          sink?.(yaw[k], swell * value);
        }
      }
      unscaled += deviate(axis, p, own, line, sink && ((term, slope) => sink(term, swell * slope)));
      if (isRepeated) {
        const drift = ownIsX ? driftX : driftY;
        unscaled += p[drift];
        sink?.(drift, swell);
      }
      const reversal = ownIsX ? LOST_MOTION_X : LOST_MOTION_Y;
      if (approach !== 0) {
        unscaled -= (approach * p[reversal]) / 2;
        sink?.(reversal, (-swell * approach) / 2);
      }
      sink?.(COMMON_SCALE, unscaled);
      return swell * unscaled;
    },
  };
}

/** What positioning along one axis consists of, and where its terms stand. */
interface Positioning {
  readonly kind: 'progressionX' | 'progressionY';
  readonly progression: readonly number[];
  readonly lines: readonly number[];
  readonly rungs: readonly number[];
  readonly firstLine: number;
  readonly firstRung: number;
  readonly ladder: number;
  readonly periodic: readonly number[];
  readonly wave: (k: number, place: number) => number;
}

/** Never more shapes than half the lines can carry: the rest is left to the single lines. */
function shapeDegree(lines: number): number {
  return Math.min(SHAPE_DEGREE, Math.max(1, Math.floor(lines / 2)));
}

function addShapes(terms: MachineTerm[], name: ShapeKind, shapes: OrthogonalPolynomials): number[] {
  const indices: number[] = [];
  for (let degree = 2; degree <= shapes.degree; degree++) {
    indices.push(terms.length);
    const straight = name === 'straightnessX' || name === 'straightnessY';
    terms.push({
      name: `${name}${degree}`,
      kind: straight ? 'straightness' : 'progression',
      priorSigma: straight ? SHAPE_SIGMA.straightnessMm : SHAPE_SIGMA.progressionMm,
    });
  }
  return indices;
}

function lineTerm(axis: Axis, atMm: number): MachineTerm {
  return { name: `line ${axis} ${atMm}`, kind: 'line', priorSigma: SHAPE_SIGMA.lineMm };
}

function addPeriodic(terms: MachineTerm[], axis: 'X' | 'Y', period: number | undefined): number[] {
  if (period === undefined) return [];
  return ['cosine', 'sine'].map((name) => {
    terms.push({ name: `${name}${axis}`, kind: 'periodic', priorSigma: SHAPE_SIGMA.periodicMm });
    return terms.length - 1;
  });
}

/**
 * Cosine and sine of a period, less the straight line through their values at the grid's lines: constant
 * and slope of a wave that lines meet are datum and scale, as with every positioning deviation.
 */
function periodicWave(
  lines: readonly number[],
  period: number | undefined,
): (k: number, place: number) => number {
  if (period === undefined) return () => 0;
  const mean = lines.reduce((sum, at) => sum + at, 0) / lines.length;
  const square = lines.reduce((sum, at) => sum + (at - mean) ** 2, 0);
  const waves = [Math.cos, Math.sin].map((wave) => {
    const raw = (at: number) => wave((2 * Math.PI * at) / period);
    const middle = lines.reduce((sum, at) => sum + raw(at), 0) / lines.length;
    const slope = lines.reduce((sum, at) => sum + (at - mean) * raw(at), 0) / square;
    return (at: number) => raw(at) - middle - slope * (at - mean);
  });
  return (k, place) => waves[k](place);
}

/** The one or two lines around a place, with their shares (linear interpolation). */
function neighbours(lines: readonly number[], place: number): [number, number][] {
  const last = lines.length - 1;
  if (place <= lines[0]) return [[0, 1]];
  if (place >= lines[last]) return [[last, 1]];
  let upper = 1;
  while (lines[upper] < place) upper++;
  const share = (place - lines[upper - 1]) / (lines[upper] - lines[upper - 1]);
  if (share > 1 - 1e-9) return [[upper, 1]];
  return [
    [upper - 1, 1 - share],
    [upper, share],
  ];
}
