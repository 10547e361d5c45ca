/**
 * The super-resolved profile of a family of marks: a cubic spline fitted to the raw pixels of all
 * its segments, and what it says about the mark.
 */

import type { Strip } from './gather-strip.js';
import { type Background, type RowLevels, rowAt } from './row-levels.js';

/** Relative deviation from the background, signed, its largest size 1, over -halfPx … halfPx. */
export interface MarkCurve {
  readonly halfPx: number;
  /** Per knot interval four coefficients of the cubic in (x - knot)/KNOT_PX. */
  readonly pieces: Float64Array;
}

export interface MarkShape {
  readonly polarity: 'dark' | 'bright' | 'mixed';
  /** Middle of the mark; px. */
  readonly middlePx: number;
  /** Full width at half depth, of both lobes together where there are two; px. */
  readonly widthPx: number;
  /** 10 to 90 % of the steeper outer flank; px. */
  readonly edgePx: number;
}

/** Spacing of the spline's knots: the sharpest edges, a pixel's own area, are one px wide. */
export const KNOT_PX = 0.5;
/**
 * Weight of the second differences against the pixels of one knot. It bridges phases of the pixel grid
 * that no segment has; with all of them present it is too small to smooth.
 */
const STIFFNESS = 1e-4;
/** A second lobe counts from this share of the main one on. */
const LOBE = 0.12;
/** Lobes of opposite sign on both sides, more alike than this, are fringes. */
const FRINGE = 0.5;

/** A segment's background, the place of its mark and its depth. */
export interface SeenMark extends Background {
  readonly shiftPx: number;
  readonly depth: number;
}

const SIXTH = 1 / 6;
/** Pixels near a window's end fade out over this: whole columns would leave at once; px. */
const FADE_PX = 1;

/** Weight of a pixel by its place alone. */
export function windowWeight(across: number, centre: number, halfPx: number): number {
  return Math.min(1, Math.max(0, (halfPx - Math.abs(across - centre)) / FADE_PX));
}

/** Collects pixels for a curve: one normal matrix of half-bandwidth 3. */
export class CurveFit {
  readonly halfPx: number;
  private readonly count: number;
  private readonly band: Float64Array;
  private readonly right: Float64Array;

  constructor(halfPx: number) {
    this.halfPx = halfPx;
    this.count = Math.ceil((2 * halfPx) / KNOT_PX) + 3;
    this.band = new Float64Array(4 * this.count);
    this.right = new Float64Array(this.count);
  }

  /**
   * Adds the pixels of one segment within its window.
   *
   * @param say weight of the segment.
   * @param keep false for places along the segment that have no say.
   */
  add(
    { across, along, value, lengthPx }: Strip,
    { level, across: slopeAcross, along: slopeAlong, shiftPx, depth }: SeenMark,
    levels: RowLevels,
    { stretch, halfPx }: { readonly stretch: number; readonly halfPx: number },
    say: number,
    keep: (along: number) => boolean,
  ): void {
    // One call per pixel and objects of many shapes in the loop made this twice as slow.
    const { band, right } = this;
    const last = this.count - 3;
    const zero = this.halfPx;
    const scale = 1 / depth;
    for (let i = 0; i < value.length; i++) {
      const d = across[i];
      const t = along[i];
      const placed = windowWeight(d, shiftPx, halfPx);
      if (placed === 0 || !keep(t)) continue;
      let light = level + slopeAcross * d + slopeAlong * t;
      if (levels !== undefined) light += levels[rowAt(t, lengthPx, levels.length)];
      const place = (stretch * (d - shiftPx) + zero) / KNOT_PX;
      if (!(place >= 0 && place < last)) continue;
      const knot = place | 0;
      const u = place - knot;
      const r = 1 - u;
      // Uniform cubic B-splines.
      const b0 = r * r * r * SIXTH;
      const b3 = u * u * u * SIXTH;
      const b1 = 2 / 3 - u * u * (1 - u / 2);
      const b2 = 1 - b0 - b1 - b3;
      const at = knot << 2;
      const weight = say * placed;
      const wy = weight * (value[i] / light - 1) * scale;
      right[knot] += wy * b0;
      right[knot + 1] += wy * b1;
      right[knot + 2] += wy * b2;
      right[knot + 3] += wy * b3;
      const w0 = weight * b0;
      const w1 = weight * b1;
      const w2 = weight * b2;
      // Row i holds (i, i), (i, i+1), (i, i+2), (i, i+3).
      band[at] += w0 * b0;
      band[at + 1] += w0 * b1;
      band[at + 2] += w0 * b2;
      band[at + 3] += w0 * b3;
      band[at + 4] += w1 * b1;
      band[at + 5] += w1 * b2;
      band[at + 6] += w1 * b3;
      band[at + 8] += w2 * b2;
      band[at + 9] += w2 * b3;
      band[at + 12] += weight * b3 * b3;
    }
  }

  /** @returns the curve, its background straightened away; undefined where it holds nothing. */
  solve(): MarkCurve | undefined {
    const { band, right, count } = this;
    let mean = 0;
    for (let k = 0; k < count; k++) mean += band[4 * k] / count;
    if (!(mean > 0)) return undefined;
    const stiff = STIFFNESS * mean;
    for (let k = 0; k + 2 < count; k++) {
      const i = 4 * k;
      band[i] += stiff;
      band[i + 1] -= 2 * stiff;
      band[i + 2] += stiff;
      band[i + 4] += 4 * stiff;
      band[i + 5] -= 2 * stiff;
      band[i + 8] += stiff;
    }
    for (let k = 0; k < count; k++) band[4 * k] += Number.EPSILON * mean;
    return normalise({ halfPx: this.halfPx, pieces: piecesOf(solveBand(band, right, count)) });
  }
}

/** Value at x; the end's value beyond the ends. */
export function curveAt(curve: MarkCurve, x: number): number {
  const { pieces, halfPx } = curve;
  const last = pieces.length / 4 - 1;
  const place = (x + halfPx) / KNOT_PX;
  const knot = Math.min(last, Math.max(0, Math.floor(place)));
  const t = Math.min(1, Math.max(0, place - knot));
  const i = 4 * knot;
  return pieces[i] + t * (pieces[i + 1] + t * (pieces[i + 2] + t * pieces[i + 3]));
}

/** Value and derivative (1/px) at x into `out`; the end's value and 0 beyond the ends. */
export function curveWithSlope(curve: MarkCurve, x: number, out: Float64Array): void {
  const { pieces, halfPx } = curve;
  const place = (x + halfPx) / KNOT_PX;
  const knot = Math.floor(place);
  if (knot < 0 || 4 * knot >= pieces.length) {
    out[0] = curveAt(curve, x);
    out[1] = 0;
    return;
  }
  const t = place - knot;
  const i = 4 * knot;
  const c = pieces[i + 2];
  const d = pieces[i + 3];
  out[0] = pieces[i] + t * (pieces[i + 1] + t * (c + t * d));
  out[1] = (pieces[i + 1] + t * (2 * c + 3 * t * d)) / KNOT_PX;
}

/** Reads the shape off the curve, in steps of a hundredth of a px. */
export function describeCurve(curve: MarkCurve): MarkShape {
  const step = 0.01;
  const n = Math.floor(curve.halfPx / step);
  const values = Float64Array.from({ length: 2 * n + 1 }, (_, i) => curveAt(curve, (i - n) * step));
  const place = (i: number) => (i - n) * step;
  const low = values.indexOf(Math.min(...values));
  const high = values.indexOf(Math.max(...values));
  const sign = -values[low] > values[high] ? -1 : 1;
  const peak = sign === 1 ? high : low;
  const second = findSecondLobe(values, peak, sign);
  const polarity = second !== undefined ? 'mixed' : sign === 1 ? 'bright' : 'dark';
  const size = second !== undefined ? values.map(Math.abs) : values.map((v) => sign * v);
  // From the peak outwards, so that a stain's echo far out does not widen the mark.
  const lobes = second !== undefined ? [peak, second] : [peak];
  const crossing = (from: number, sense: 1 | -1, share: number) => {
    const level = share * size[from];
    let i = from;
    while (i + sense >= 0 && i + sense < size.length && size[i + sense] > level) i += sense;
    const inside = size[i];
    const outside = size[i + sense] ?? inside;
    return (
      place(i) + (inside > outside ? (sense * step * (inside - level)) / (inside - outside) : 0)
    );
  };
  const leftLobe = Math.min(...lobes);
  const rightLobe = Math.max(...lobes);
  const left = crossing(leftLobe, -1, 0.5);
  const right = crossing(rightLobe, 1, 0.5);
  const middlePx = (left + right) / 2;
  const edges = [
    crossing(leftLobe, -1, 0.9) - crossing(leftLobe, -1, 0.1),
    crossing(rightLobe, 1, 0.1) - crossing(rightLobe, 1, 0.9),
  ];
  return {
    polarity,
    middlePx,
    widthPx: right - left,
    edgePx: Math.min(...edges),
  };
}

/**
 * The other half of a groove: of opposite sign, on one side of the main lobe. Phones that sharpen put
 * fringes of opposite sign on *both* sides, which make no pair.
 */
function findSecondLobe(values: Float64Array, peak: number, sign: 1 | -1): number | undefined {
  const most = (from: number, to: number) => {
    let best = from;
    for (let i = from; i < to; i++) if (-sign * values[i] > -sign * values[best]) best = i;
    return best;
  };
  const sides = [most(0, peak), most(peak, values.length)];
  const [left, right] = sides.map((i) => Math.max(0, (-sign * values[i]) / (sign * values[peak])));
  if (Math.max(left, right) < LOBE || Math.min(left, right) > FRINGE * Math.max(left, right)) {
    return undefined;
  }
  return left > right ? sides[0] : sides[1];
}

/** A level and a slope are the background's; the largest deviation is the amplitude's. */
function normalise(curve: MarkCurve): MarkCurve | undefined {
  const { pieces, halfPx } = curve;
  const n = pieces.length / 4;
  const outer = Math.max(2, Math.floor(n / 8));
  const meanOf = (from: number) => {
    let sum = 0;
    for (let k = from; k < from + outer; k++) sum += pieces[4 * k] / outer;
    return sum;
  };
  const left = meanOf(0);
  const right = meanOf(n - outer);
  const slope = (right - left) / (n - outer);
  const level = left - (slope * (outer - 1)) / 2;
  const flat = Float64Array.from(pieces);
  let largest = 0;
  for (let k = 0; k < n; k++) {
    flat[4 * k] -= level + slope * k;
    flat[4 * k + 1] -= slope;
    largest = Math.max(largest, Math.abs(flat[4 * k]));
  }
  if (!(largest > 0)) return undefined;
  return { halfPx, pieces: flat.map((c) => c / largest) };
}

/** B-spline coefficients to polynomials. */
function piecesOf(c: Float64Array): Float64Array {
  const n = c.length - 3;
  const pieces = new Float64Array(4 * n);
  for (let k = 0; k < n; k++) {
    const [p, q, r, s] = [c[k], c[k + 1], c[k + 2], c[k + 3]];
    pieces[4 * k] = (p + 4 * q + r) / 6;
    pieces[4 * k + 1] = (r - p) / 2;
    pieces[4 * k + 2] = (p - 2 * q + r) / 2;
    pieces[4 * k + 3] = (s - p + 3 * (q - r)) / 6;
  }
  return pieces;
}

/** Cholesky (LDLᵀ) of a symmetric band of half-width 3, upper rows in fours; the input is used up. */
function solveBand(band: Float64Array, right: Float64Array, n: number): Float64Array {
  const x = Float64Array.from(right);
  for (let k = 0; k < n; k++) {
    const pivot = band[4 * k];
    for (let a = 1; a <= 3 && k + a < n; a++) {
      const factor = band[4 * k + a] / pivot;
      for (let b = a; b <= 3 && k + b < n; b++) {
        band[4 * (k + a) + b - a] -= factor * band[4 * k + b];
      }
      x[k + a] -= factor * x[k];
    }
  }
  for (let k = n - 1; k >= 0; k--) {
    let sum = x[k];
    for (let a = 1; a <= 3 && k + a < n; a++) sum -= band[4 * k + a] * x[k + a];
    x[k] = sum / band[4 * k];
  }
  return x;
}
