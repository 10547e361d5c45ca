/**
 * A smooth surface through the offsets of one family of lines, with a step between the two
 * approaches: what the map missed (lens, bow of the board) without what is each line's own. Marks that were
 * made at another time, rungs and those made again, lie off it by a shift of their own: a machine that lost
 * steps in between moves them all.
 */

import { median, robustSigma, solveNormal } from '../numerics/index.js';
import type { BoardSegment } from '../program/index.js';

export interface OffsetSample {
  readonly segment: BoardSegment;
  readonly xMm: number;
  readonly yMm: number;
  /** Seen minus predicted, along the normal; px. */
  readonly offsetPx: number;
}

export interface OffsetSurface {
  /** px. */
  predicted(segment: BoardSegment, xMm: number, yMm: number): number;
  /** Robust scatter about the prediction; px. */
  readonly scatterPx: number;
}

/**
 * Samples per unknown below which a lower degree is taken. At 5, boards of six lines went without the cubic terms
 * that a falsely measured lens needs: segments lay slanted in their windows.
 */
const SAMPLES_PER_TERM = 3;
const HIGHEST_DEGREE = 4;
/** Terms beyond the data's reach stay small; px. Weak: a thousandth of a sample of 0.5 px. */
const PRIOR_PX = 15;
/** Scatter below which nothing more is learnt from weights; px. */
const LEAST_SCATTER_PX = 0.01;
const ROUNDS = 8;
/** Fewer samples tell no common shift from a stain. */
const FEWEST_SHIFTED = 3;

/** @returns undefined for fewer samples than a plane needs with some to spare. */
export function fitOffsetSurface(samples: readonly OffsetSample[]): OffsetSurface | undefined {
  const basis = chooseBasis(samples);
  if (basis === undefined) return undefined;
  const size = basis.size + 1;
  const rows = samples.map((s) => basis.row(s.xMm, s.yMm, s.segment.approach));
  let coefficients = new Float64Array(size);
  const residualsOf = () =>
    samples.map((s, i) => s.offsetPx - rows[i].reduce((sum, b, k) => sum + b * coefficients[k], 0));
  coefficients[0] = median(samples.map((s) => s.offsetPx));
  let scatterPx = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const residuals = residualsOf();
    scatterPx = Math.max(LEAST_SCATTER_PX, robustSigma(residuals));
    const matrix = new Float64Array(size * size);
    const right = new Float64Array(size);
    for (let i = 0; i < samples.length; i++) {
      // Geman-McClure, so that a stray mark does not bend the surface.
      const weight = 1 / (1 + (residuals[i] / (3 * scatterPx)) ** 2) ** 2;
      for (let a = 0; a < size; a++) {
        right[a] += weight * rows[i][a] * samples[i].offsetPx;
        for (let b = 0; b <= a; b++) matrix[a * size + b] += weight * rows[i][a] * rows[i][b];
      }
    }
    for (let a = 0; a < size; a++) matrix[a * size + a] += (scatterPx / PRIOR_PX) ** 2;
    const solved = solveNormal(matrix, right);
    if (solved === undefined) return undefined;
    coefficients = Float64Array.from(solved);
  }
  const valueAt = (xMm: number, yMm: number, approach: number) =>
    basis.row(xMm, yMm, approach).reduce((sum, b, k) => sum + b * coefficients[k], 0);
  const residuals = residualsOf();
  const shiftOf = commonShifts(samples, residuals);
  return {
    predicted: (segment, xMm, yMm) => valueAt(xMm, yMm, segment.approach) + shiftOf(segment),
    scatterPx: Math.max(
      LEAST_SCATTER_PX,
      robustSigma(residuals.map((r, i) => r - shiftOf(samples[i].segment))),
    ),
  };
}

/** Median departure of all rungs, and of all marks made again; px. */
function commonShifts(
  samples: readonly OffsetSample[],
  residuals: readonly number[],
): (segment: BoardSegment) => number {
  const medianOf = (kind: 'isRung' | 'isRepeated') => {
    const own = residuals.filter((_, i) => samples[i].segment[kind]);
    return own.length < FEWEST_SHIFTED ? 0 : median(own);
  };
  const rungs = medianOf('isRung');
  const again = medianOf('isRepeated');
  return ({ isRung, isRepeated }) => (isRung ? rungs : isRepeated ? again : 0);
}

interface Basis {
  readonly size: number;
  /** Products of Legendre polynomials in x and y, then the approach. */
  row(xMm: number, yMm: number, approach: number): number[];
}

function chooseBasis(samples: readonly OffsetSample[]): Basis | undefined {
  let degree = HIGHEST_DEGREE;
  const termsOf = (d: number) => ((d + 1) * (d + 2)) / 2;
  while (degree > 1 && samples.length < SAMPLES_PER_TERM * termsOf(degree)) degree--;
  if (samples.length < 2 * termsOf(1)) return undefined;
  const x = rangeOf(samples.map((s) => s.xMm));
  const y = rangeOf(samples.map((s) => s.yMm));
  return {
    size: termsOf(degree),
    row(xMm, yMm, approach) {
      const p = legendre((xMm - x.middle) / x.half, degree);
      const q = legendre((yMm - y.middle) / y.half, degree);
      const row: number[] = [];
      for (let total = 0; total <= degree; total++) {
        for (let i = 0; i <= total; i++) row.push(p[i] * q[total - i]);
      }
      row.push(approach / 2);
      return row;
    },
  };
}

function rangeOf(values: readonly number[]): { middle: number; half: number } {
  const low = Math.min(...values);
  const high = Math.max(...values);
  return { middle: (low + high) / 2, half: high > low ? (high - low) / 2 : 1 };
}

function legendre(t: number, degree: number): number[] {
  const p = [1, t];
  for (let k = 1; k < degree; k++) p.push(((2 * k + 1) * t * p[k] - k * p[k - 1]) / (k + 1));
  return p;
}
