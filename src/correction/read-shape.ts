/**
 * What the deviations of an axis look like beside a straight slope: a step, a knee, a bend, lost motion that grows along the
 * travel. New steps per unit mend a slope alone; laid over one of these they would hide it.
 */

import { LuDecomposition, Matrix } from 'ml-matrix';
import { COVERAGE_FACTOR, type DeviationRecord } from '../../shared/schemas/measurement.js';
import { middlesOf } from './middles-of.js';

export type ShapeKind = 'step' | 'knee' | 'bend' | 'growing lost motion';

export interface Shape {
  readonly kind: ShapeKind;
  /** Where along the travel, mm: of a step or a knee the place; of a bend where it is farthest off. */
  readonly atMm: number;
  /** Height of the step, departure of knee or bend from a straight line, change of lost motion end to end; mm. */
  readonly sizeMm: number;
  readonly U: number;
}

/** With fewer lines a bend and a step look alike. */
const FEWEST_LINES = 8;
/**
 * Difference of the Bayesian information criterion from which a model is taken for better: "very strong" evidence
 * (Kass and Raftery, Bayes factors, JASA 90 (1995)).
 */
const CLEAR_BIC = 10;
/** What is smaller no spanner finds, mm; common practice, no source. */
const LEAST_SIZE_MM = 0.02;
/** A slope of lost motion beyond this many of its standard deviations is no chance. */
const CLEAR_SLOPE = 4;
/** A step or a knee nearer to an end than so many lines is a stray line or two. */
const FROM_END = 2;

/** @param deviations of all axes; rungs are passed over. @returns none where a slope is all there is. */
export function readShapes(deviations: readonly DeviationRecord[], axis: 'x' | 'y'): Shape[] {
  const lines = deviations
    .filter((one) => one.axis === axis && one.rung !== true)
    .sort((a, b) => a.commanded - b.commanded);
  const places = middlesOf(lines);
  const shape = readPositions(places);
  const growing = readLostMotion(lines);
  return [shape, growing].filter((one) => one !== undefined);
}

interface Place {
  readonly at: number;
  readonly value: number;
}

interface Fit {
  readonly kind: Exclude<ShapeKind, 'growing lost motion'>;
  readonly atMm: number;
  readonly bic: number;
  readonly sizeMm: number;
  readonly u: number;
}

function readPositions(places: readonly Place[]): Shape | undefined {
  if (places.length < FEWEST_LINES) return undefined;
  const from = places[0]!.at;
  const length = places[places.length - 1]!.at - from;
  const t = places.map(({ at }) => (2 * (at - from)) / length - 1);
  const line = fitModel(places, t, []);
  if (line === undefined) return undefined;
  const fits: Fit[] = [];
  const add = (
    kind: Fit['kind'],
    atMm: number,
    fitted: ReturnType<typeof fitModel>,
    share: number,
  ) => {
    if (fitted === undefined) return;
    const { bic, coefficient, u } = fitted;
    fits.push({ kind, atMm, bic, sizeMm: coefficient * share, u: u * share });
  };
  // Of t² over -1..1 a straight line leaves one unit from peak to valley.
  const bend = fitModel(places, t, [t.map((one) => one ** 2)]);
  add('bend', from + length / 2, bend, 1);
  for (let k = FROM_END; k <= places.length - FROM_END; k++) {
    const step = fitModel(places, t, [t.map((_, i) => (i < k ? 0 : 1))], 1);
    const between = (places[k - 1]!.at + places[k]!.at) / 2;
    add('step', between, step, 1);
    const knee = fitModel(places, t, [t.map((one) => Math.max(0, one - t[k]!))], 1);
    // A straight line through both ends lies off the knee by this share of the change of slope.
    const share = ((1 - t[k]!) * (1 + t[k]!)) / 2;
    add('knee', places[k]!.at, knee, share);
  }
  if (fits.length === 0) return undefined;
  const best = fits.reduce((a, b) => (b.bic < a.bic ? b : a));
  const { kind, atMm, sizeMm, u } = best;
  const U = COVERAGE_FACTOR * u;
  if (line.bic - best.bic < CLEAR_BIC || Math.abs(sizeMm) < Math.max(LEAST_SIZE_MM, U)) {
    return undefined;
  }
  return { kind, atMm, sizeMm, U };
}

/**
 * @param tried places of which so many were tried for the model: each counts as one more unknown.
 * @returns undefined where the places do not tell the unknowns apart, as lines that lie on each other.
 */
function fitModel(
  places: readonly Place[],
  t: readonly number[],
  more: readonly (readonly number[])[],
  tried = 0,
): { bic: number; coefficient: number; u: number } | undefined {
  const columns = [t.map(() => 1), t, ...more];
  const design = new Matrix(t.map((_, i) => columns.map((column) => column[i]!)));
  const values = Matrix.columnVector(places.map(({ value }) => value));
  const normal = design.transpose().mmul(design);
  const factors = new LuDecomposition(normal);
  if (factors.isSingular()) return undefined;
  const inverse = factors.solve(Matrix.eye(columns.length));
  const solution = inverse.mmul(design.transpose().mmul(values));
  const residual = Matrix.sub(values, design.mmul(solution)).norm('frobenius');
  const n = places.length;
  const freedom = Math.max(1, n - columns.length - tried);
  // What fits to the last digit has no scatter to judge by.
  const square = Math.max(residual ** 2, n * 1e-18);
  const last = columns.length - 1;
  const bic = n * Math.log(square / n) + (columns.length + tried) * Math.log(n);
  if (!Number.isFinite(bic)) return undefined;
  return {
    bic,
    coefficient: solution.get(last, 0),
    u: Math.sqrt((square / freedom) * inverse.get(last, last)),
  };
}

function readLostMotion(lines: readonly DeviationRecord[]): Shape | undefined {
  const places = lines.flatMap(({ commanded, forward, reverse }) =>
    forward === undefined || reverse === undefined
      ? []
      : [{ at: commanded, value: reverse - forward }],
  );
  if (places.length < FEWEST_LINES) return undefined;
  const from = places[0]!.at;
  const to = places[places.length - 1]!.at;
  const t = places.map(({ at }) => (at - from) / (to - from));
  const line = fitModel(places, t, []);
  if (line === undefined) return undefined;
  const { coefficient, u } = line;
  if (Math.abs(coefficient) < Math.max(LEAST_SIZE_MM, CLEAR_SLOPE * u)) return undefined;
  return {
    kind: 'growing lost motion',
    atMm: coefficient > 0 ? to : from,
    sizeMm: coefficient,
    U: COVERAGE_FACTOR * u,
  };
}
