/**
 * The last step of a registration: the segment's pixels averaged along it, and the shift by generalised
 * least squares in the noise that the family's background shows. Where that is white, nothing changes.
 */

import { factorise, forwardSubstitute } from '../numerics/index.js';
import { type BackgroundNoise, CORRELATIONS, type ResidualProfile } from './background-noise.js';
import type { Strip } from './gather-strip.js';
import { curveWithSlope, type MarkCurve, windowWeight } from './mark-curve.js';
import { keepTest, type Registration, tukeyWeight } from './register-segment.js';
import { lightAt, type RowLevels } from './row-levels.js';

/** One registered segment summed into bins of a px across. */
export interface BinnedSegment extends ResidualProfile {
  /** Per bin: mean residual, then mean derivatives by level, slope, depth and shift, then their weight. */
  readonly rows: Float64Array;
  /** Mean residual per bin of all pixels, whatever robust weights say of them; grey values. */
  readonly plain: Float64Array;
  readonly bins: number;
}

export const UNKNOWNS = 4;
const ROW = UNKNOWNS + 2;
/** A bin with less than this share of the fullest one is left out. */
const LEAST_FILLED = 0.1;

export interface WeighedShift {
  /** Add to the registration's shift; px. */
  readonly stepPx: number;
  readonly formalPx: number;
  /** Root mean square of what remains of the profile, in its expected scatter: 1 where all is as expected. */
  readonly misfit: number;
}

export function binSegment(
  strip: Strip,
  curve: MarkCurve,
  state: Registration,
  options: {
    readonly stretch: number;
    readonly halfPx: number;
    readonly leftOut: readonly boolean[] | undefined;
    readonly rowLevels: RowLevels;
  },
): BinnedSegment {
  const { across: d, along: t, value } = strip;
  const { stretch, halfPx, rowLevels } = options;
  const reach = Math.ceil(halfPx);
  const bins = 2 * reach + 1;
  const rows = new Float64Array(bins * ROW);
  const halves = [new Float64Array(bins), new Float64Array(bins)] as const;
  const weights = [new Float64Array(bins), new Float64Array(bins)] as const;
  const plain = new Float64Array(bins);
  const counts = new Float64Array(bins);
  const both = new Float64Array(2);
  const keep = keepTest(strip, options.leftOut);
  for (let i = 0; i < value.length; i++) {
    const from = d[i] - state.shiftPx;
    const placed = windowWeight(d[i], state.shiftPx, halfPx);
    if (placed === 0 || !keep(t[i])) continue;
    const bin = Math.round(from) + reach;
    curveWithSlope(curve, stretch * from, both);
    const light = lightAt(state, rowLevels, d[i], t[i], strip.lengthPx);
    const shape = 1 + state.depth * both[0];
    const residual = value[i] - light * shape;
    const slope = -light * state.depth * stretch * both[1];
    plain[bin] += placed * residual;
    counts[bin] += placed;
    const weight = placed * tukeyWeight(residual, slope, state);
    if (weight === 0) continue;
    const at = bin * ROW;
    rows[at] += weight * residual;
    rows[at + 1] += weight * shape;
    rows[at + 2] += weight * shape * from;
    rows[at + 3] += weight * light * both[0];
    rows[at + 4] += weight * slope;
    rows[at + 5] += weight;
    const half = t[i] < 0 ? 0 : 1;
    // With the slope that the fit took: else the slow part of the grain would be missing.
    halves[half][bin] += weight * (residual + state.across * from);
    weights[half][bin] += weight;
  }
  for (let bin = 0; bin < bins; bin++) {
    const weight = rows[bin * ROW + 5];
    if (weight > 0) for (let k = 0; k < ROW - 1; k++) rows[bin * ROW + k] /= weight;
    for (const half of [0, 1] as const) halves[half][bin] /= weights[half][bin];
    if (counts[bin] > 0) plain[bin] /= counts[bin];
  }
  return { firstPx: -reach, halves, lengthPx: strip.lengthPx, rows, plain, bins };
}

/** @returns undefined where the bins do not fix the four unknowns. */
export function weighShift(
  { rows, plain, bins, lengthPx }: BinnedSegment,
  noise: BackgroundNoise,
): WeighedShift | undefined {
  let fullest = 0;
  for (let bin = 0; bin < bins; bin++) fullest = Math.max(fullest, rows[bin * ROW + 5]);
  const used: number[] = [];
  for (let bin = 0; bin < bins; bin++) {
    if (rows[bin * ROW + 5] > LEAST_FILLED * fullest) used.push(bin);
  }
  const n = used.length;
  if (n <= UNKNOWNS) return undefined;
  const covariance = covarianceOf(used, rows, noise, lengthPx, fullest);
  if (!factorise(covariance, n)) return undefined;
  // Whitened residuals and derivatives, one column after the other.
  const white = Array.from({ length: UNKNOWNS + 1 }, (_, k) =>
    forwardSubstitute(
      covariance,
      n,
      Float64Array.from(used, (bin) => rows[bin * ROW + k]),
    ),
  );
  const whitePlain = forwardSubstitute(
    covariance,
    n,
    Float64Array.from(used, (bin) => plain[bin]),
  );
  const normal = new Float64Array(UNKNOWNS * UNKNOWNS);
  const right = new Float64Array(UNKNOWNS);
  const rightPlain = new Float64Array(UNKNOWNS);
  for (let a = 0; a < UNKNOWNS; a++) {
    right[a] = dot(white[a + 1], white[0]);
    rightPlain[a] = dot(white[a + 1], whitePlain);
    for (let b = 0; b <= a; b++) {
      normal[a * UNKNOWNS + b] = dot(white[a + 1], white[b + 1]);
    }
  }
  if (!factorise(normal, UNKNOWNS)) return undefined;
  // The shift is the last unknown: forward substitution alone gives it.
  const solved = forwardSubstitute(normal, UNKNOWNS, right);
  const last = normal[UNKNOWNS * UNKNOWNS - 1];
  // Squares left when the four unknowns have taken theirs.
  const explained = forwardSubstitute(normal, UNKNOWNS, rightPlain);
  const left = Math.max(0, dot(whitePlain, whitePlain) - dot(explained, explained));
  return {
    stepPx: solved[UNKNOWNS - 1] / last,
    formalPx: 1 / last,
    misfit: Math.sqrt(left / (n - UNKNOWNS)),
  };
}

/** Lower triangle, row-major. */
function covarianceOf(
  used: readonly number[],
  rows: Float64Array,
  noise: BackgroundNoise,
  lengthPx: number,
  fullest: number,
): Float64Array {
  const n = used.length;
  const shorter = noise.lengthPx / lengthPx;
  const reach = used[n - 1] - used[0];
  const byLag = Float64Array.from({ length: reach + 1 }, (_, lag) =>
    CORRELATIONS.reduce(
      (sum, correlation, j) => sum + (shorter * noise.short[j] + noise.long[j]) * correlation(lag),
      0,
    ),
  );
  const matrix = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) matrix[i * n + j] = byLag[used[i] - used[j]];
    matrix[i * n + i] += (noise.white * shorter * fullest) / rows[used[i] * ROW + 5];
  }
  return matrix;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}
