/** One segment against its family's profile: Gauss-Newton on the raw pixels, robust. */

import { solveNormal } from '../numerics/index.js';
import type { Strip } from './gather-strip.js';
import { curveAt, curveWithSlope, type MarkCurve } from './mark-curve.js';
import { lightAt } from './row-levels.js';

/**
 * grey = (level + across·d + along·t) (1 + depth·P(q (d - shift))), P the family's profile, q the
 * stretch of the segment's px to the profile's. Light scales mark and background alike: a shadow's
 * slope then does not pull the mark aside.
 */
export interface Registration {
  readonly shiftPx: number;
  readonly depth: number;
  readonly level: number;
  readonly across: number;
  readonly along: number;
  /** Formal standard uncertainty of the shift, pixels taken as independent; px. */
  readonly formalPx: number;
  /** Robust scatter of the pixels about the model; grey values; NaN while it is not known. */
  readonly noise: number;
  /** Root mean square of the same without robustness. */
  readonly rms: number;
}

export interface RegisterOptions {
  /** Half-width about the mark that is used; px of the segment. */
  readonly halfPx: number;
  readonly stretch: number;
  readonly rounds: number;
  /** Pieces along the mark to leave out, equal parts of its length. */
  readonly leftOut?: readonly boolean[];
  /** Levels of grain across the mark. */
  readonly rowLevels?: Float64Array;
}

/** Tukey's biweight at 4.685 σ: 95 % efficiency on normal noise. */
const TUKEY = 4.685;
/** Least scatter that weights are scaled by: a grey value's rounding and a share of the mark's depth. */
const LEAST_NOISE = 0.5;
const LEAST_NOISE_SHARE = 0.02;
/**
 * A flank that lies off the profile's by this is no outlier; px. Without it a mark slightly wider than
 * the others lost one flank to the weights and moved by a tenth of a pixel.
 */
const FLANK_PX = 0.2;
/** Standard deviation of rounding to whole grey values. */
const ROUNDING = 1 / Math.sqrt(12);
/** Largest step of the shift in one round; px. */
const LARGEST_STEP = 0.7;
/** A shift that moves by less than this has settled; px. */
const SETTLED_PX = 0.001;
/** Pixels near the window's end fade out over this: whole columns would leave at once; px. */
const FADE_PX = 1;

/** Weight of a pixel by its place alone. */
export function windowWeight(across: number, centre: number, halfPx: number): number {
  return Math.min(1, Math.max(0, (halfPx - Math.abs(across - centre)) / FADE_PX));
}

/** @returns undefined where the pixels do not fix the five unknowns or the mark is lost. */
export function registerSegment(
  strip: Strip,
  curve: MarkCurve,
  start: Registration,
  options: RegisterOptions,
): Registration | undefined {
  const { across: d, along: t, value } = strip;
  const { stretch, halfPx } = options;
  const centre = start.shiftPx;
  const keep = keepTest(strip, options.leftOut);
  const { rowLevels } = options;
  const both = new Float64Array(2);
  const allowance = (TUKEY * FLANK_PX) ** 2;
  let now = start;
  let noise = { robust: start.noise, rms: start.rms };
  if (Number.isNaN(noise.robust)) noise = measureNoise(strip, curve, now, options);
  for (let round = 0; round < options.rounds; round++) {
    const n = new Float64Array(25);
    const r = new Float64Array(5);
    const scatter = new ScatterCount();
    const cut = cutOf(noise.robust, now);
    for (let i = 0; i < value.length; i++) {
      const placed = windowWeight(d[i], centre, halfPx);
      if (placed === 0 || !keep(t[i])) continue;
      curveWithSlope(curve, stretch * (d[i] - now.shiftPx), both);
      const light = lightAt(now, rowLevels, d[i], t[i], strip.lengthPx);
      const shape = 1 + now.depth * both[0];
      const residual = value[i] - light * shape;
      scatter.add(residual);
      const g1 = d[i] * shape;
      const g2 = t[i] * shape;
      const g3 = light * both[0];
      const g4 = -light * now.depth * stretch * both[1];
      const share = (residual * residual) / (cut * cut + allowance * g4 * g4);
      if (share >= 1) continue;
      const weight = placed * (1 - share) ** 2;
      const w0 = weight * shape;
      const w1 = weight * g1;
      const w2 = weight * g2;
      const w3 = weight * g3;
      const w4 = weight * g4;
      n[0] += w0 * shape;
      n[5] += w1 * shape;
      n[6] += w1 * g1;
      n[10] += w2 * shape;
      n[11] += w2 * g1;
      n[12] += w2 * g2;
      n[15] += w3 * shape;
      n[16] += w3 * g1;
      n[17] += w3 * g2;
      n[18] += w3 * g3;
      n[20] += w4 * shape;
      n[21] += w4 * g1;
      n[22] += w4 * g2;
      n[23] += w4 * g3;
      n[24] += w4 * g4;
      r[0] += w0 * residual;
      r[1] += w1 * residual;
      r[2] += w2 * residual;
      r[3] += w3 * residual;
      r[4] += w4 * residual;
    }
    const step = solveNormal(n, r);
    // Last diagonal entry of the inverse, from a solution for the last unit vector.
    const inverse = solveNormal(n, Float64Array.of(0, 0, 0, 0, 1));
    if (step === undefined || inverse === undefined || !step.every(Number.isFinite))
      return undefined;
    now = {
      level: now.level + step[0],
      across: now.across + step[1],
      along: now.along + step[2],
      depth: now.depth + step[3],
      shiftPx: now.shiftPx + Math.max(-LARGEST_STEP, Math.min(LARGEST_STEP, step[4])),
      formalPx: Math.sqrt(inverse[4]) * Math.max(ROUNDING, noise.robust),
      noise: noise.robust,
      rms: noise.rms,
    };
    if (!(now.depth > 0) || !(now.level > 0) || Math.abs(now.shiftPx - centre) > halfPx / 2) {
      return undefined;
    }
    // The residuals before this step: as good a scale for the next one, and no further pass.
    noise = scatter.read();
    if (Math.abs(step[4]) < SETTLED_PX && round > 0) break;
  }
  return { ...now, noise: noise.robust, rms: noise.rms };
}

/** Weight of a pixel by its residual; `slope` its derivative by the shift. */
export function tukeyWeight(residual: number, slope: number, at: Registration): number {
  const cut = cutOf(at.noise, at);
  const share = (residual * residual) / (cut * cut + (TUKEY * FLANK_PX * slope) ** 2);
  return share >= 1 ? 0 : (1 - share) ** 2;
}

function cutOf(noise: number, { depth, level }: Registration): number {
  return TUKEY * Math.max(noise, LEAST_NOISE, LEAST_NOISE_SHARE * depth * level);
}

export function keepTest(strip: Strip, leftOut: readonly boolean[] | undefined) {
  if (leftOut === undefined || !leftOut.includes(true)) return () => true;
  const pieces = leftOut.length;
  return (along: number) => {
    const piece = Math.floor((along / strip.lengthPx + 0.5) * pieces);
    return !leftOut[Math.min(pieces - 1, Math.max(0, piece))];
  };
}

/** Histogram steps per grey value and its end. */
const FINE = 8;
const END = 64;

/** Robust scatter without sorting: a histogram of the residuals' sizes. */
class ScatterCount {
  private readonly counts = new Uint32Array(FINE * END + 1);
  private squares = 0;
  private total = 0;

  add(residual: number): void {
    const size = residual < 0 ? -residual : residual;
    this.squares += size * size;
    this.total++;
    this.counts[size < END ? (FINE * size) | 0 : FINE * END]++;
  }

  read(): { robust: number; rms: number } {
    const { counts, total } = this;
    let below = 0;
    let bin = 0;
    while (bin < counts.length && 2 * (below + counts[bin]) < total) below += counts[bin++];
    const share = counts[bin] > 0 ? (total / 2 - below) / counts[bin] : 0;
    return {
      // 1.4826: median absolute deviation to standard deviation of a normal scatter.
      robust: (1.4826 * (bin + share)) / FINE,
      rms: Math.sqrt(this.squares / Math.max(1, total)),
    };
  }
}

function measureNoise(
  strip: Strip,
  curve: MarkCurve,
  at: Registration,
  { stretch, halfPx, leftOut, rowLevels }: RegisterOptions,
): { robust: number; rms: number } {
  const { across: d, along: t, value } = strip;
  const keep = keepTest(strip, leftOut);
  const scatter = new ScatterCount();
  for (let i = 0; i < value.length; i++) {
    if (Math.abs(d[i] - at.shiftPx) > halfPx || !keep(t[i])) continue;
    const light = lightAt(at, rowLevels, d[i], t[i], strip.lengthPx);
    const p = curveAt(curve, stretch * (d[i] - at.shiftPx));
    scatter.add(value[i] - light * (1 + at.depth * p));
  }
  return scatter.read();
}
