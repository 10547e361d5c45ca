/** One segment against its family's profile: Gauss-Newton on the raw pixels, robust. */

import { backSubstitute, factorise, forwardSubstitute } from '../numerics/index.js';
import type { Strip } from './gather-strip.js';
import { curveAt, KNOT_PX, type MarkCurve, windowWeight } from './mark-curve.js';
import { lightAt, rowAt } from './row-levels.js';

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
  /** A shift that moves by less than this has settled; px. */
  readonly settledPx: number;
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
/** Pixels of a segment from which its first scatter is taken, about. */
const MOST_FOR_NOISE = 500;
/** Largest step of the shift in one round; px. */
const LARGEST_STEP = 0.7;

/** Histogram steps per grey value and its end. */
const FINE = 8;
const END = 64;

/** Robust scatter without sorting: a histogram of the residuals' sizes. */
class ScatterCount {
  /** For `scatterBin`. */
  readonly counts = new Uint32Array(FINE * END + 1);
  private squares = 0;
  private total = 0;

  clear(): void {
    this.counts.fill(0);
  }

  /** To be called once all are counted. */
  close(total: number, squares: number): void {
    this.total = total;
    this.squares = squares;
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

function scatterBin(residual: number): number {
  const size = residual < 0 ? -residual : residual;
  return size < END ? (FINE * size) | 0 : FINE * END;
}

/** Arrays that one registration after the other writes into: new ones for each would cost more than the fit. */
export class RegisterRoom {
  /** The pixels that count, side by side: where they lie, their grey, their weight by place, their grain. */
  across = new Float64Array(0);
  along = new Float64Array(0);
  value = new Float64Array(0);
  placed = new Float64Array(0);
  grain = new Float64Array(0);
  readonly scatter = new ScatterCount();
  readonly normal = new Float64Array(UNKNOWNS * UNKNOWNS);
  readonly right = new Float64Array(UNKNOWNS);
  readonly scaling = new Float64Array(UNKNOWNS);
  readonly last = new Float64Array(UNKNOWNS);

  reserve(pixels: number): void {
    if (this.across.length >= pixels) return;
    this.across = new Float64Array(2 * pixels);
    this.along = new Float64Array(2 * pixels);
    this.value = new Float64Array(2 * pixels);
    this.placed = new Float64Array(2 * pixels);
    this.grain = new Float64Array(2 * pixels);
  }
}

/** Level, its slopes across and along, depth, shift. */
const UNKNOWNS = 5;

/** @returns undefined where the pixels do not fix the five unknowns or the mark is lost. */
export function registerSegment(
  strip: Strip,
  curve: MarkCurve,
  start: Registration,
  options: RegisterOptions,
  room = new RegisterRoom(),
): Registration | undefined {
  const centre = start.shiftPx;
  const count = choosePixels(strip, centre, options, room);
  let now = start;
  let noise = { robust: start.noise, rms: start.rms };
  if (Number.isNaN(noise.robust)) noise = measureNoise(strip, curve, now, options, room);
  for (let round = 0; round < options.rounds; round++) {
    sumEquations(curve, now, options.stretch, cutOf(noise.robust, now), count, room);
    const variance = solveStep(room);
    const step = room.right;
    if (variance === undefined || !step.every(Number.isFinite)) return undefined;
    now = {
      level: now.level + step[0],
      across: now.across + step[1],
      along: now.along + step[2],
      depth: now.depth + step[3],
      shiftPx: now.shiftPx + Math.max(-LARGEST_STEP, Math.min(LARGEST_STEP, step[4])),
      formalPx: Math.sqrt(variance) * Math.max(ROUNDING, noise.robust),
      noise: noise.robust,
      rms: noise.rms,
    };
    if (
      !(now.depth > 0) ||
      !(now.level > 0) ||
      Math.abs(now.shiftPx - centre) > options.halfPx / 2
    ) {
      return undefined;
    }
    // The residuals before this step: as good a scale for the next one, and no further pass.
    noise = room.scatter.read();
    if (Math.abs(step[4]) < options.settledPx) break;
  }
  return { ...now, noise: noise.robust, rms: noise.rms };
}

/** Pixels in the window and not left out, copied side by side once for all rounds. */
function choosePixels(
  strip: Strip,
  centre: number,
  { halfPx, leftOut, rowLevels }: RegisterOptions,
  room: RegisterRoom,
): number {
  const { across, along, value, lengthPx } = strip;
  const keep = keepTest(strip, leftOut);
  const isWhole = keep === keepAll;
  room.reserve(value.length);
  const { across: d, along: t, value: grey, placed, grain } = room;
  let count = 0;
  for (let i = 0; i < value.length; i++) {
    const weight = windowWeight(across[i], centre, halfPx);
    if (weight === 0 || !(isWhole || keep(along[i]))) continue;
    d[count] = across[i];
    t[count] = along[i];
    grey[count] = value[i];
    placed[count] = weight;
    count++;
  }
  if (rowLevels === undefined) grain.fill(0, 0, count);
  else {
    for (let k = 0; k < count; k++) grain[k] = rowLevels[rowAt(t[k], lengthPx, rowLevels.length)];
  }
  return count;
}

/** Normal equations of one step, lower triangle, and the scatter of the residuals. */
function sumEquations(
  curve: MarkCurve,
  now: Registration,
  stretch: number,
  cut: number,
  count: number,
  { across, along, value, placed, grain, scatter, normal, right }: RegisterRoom,
): void {
  const { level, shiftPx, depth, across: slopeAcross, along: slopeAlong } = now;
  const { counts } = scatter;
  const { pieces, halfPx } = curve;
  const knots = pieces.length >> 2;
  const knotPx = KNOT_PX;
  const allowance = (TUKEY * FLANK_PX) ** 2;
  const least = cut * cut;
  // Sums in variables of their own: in arrays each would be fetched and stored at every pixel.
  let n00 = 0;
  let n10 = 0;
  let n11 = 0;
  let n20 = 0;
  let n21 = 0;
  let n22 = 0;
  let n30 = 0;
  let n31 = 0;
  let n32 = 0;
  let n33 = 0;
  let n40 = 0;
  let n41 = 0;
  let n42 = 0;
  let n43 = 0;
  let n44 = 0;
  let r0 = 0;
  let r1 = 0;
  let r2 = 0;
  let r3 = 0;
  let r4 = 0;
  let squares = 0;
  scatter.clear();
  for (let k = 0; k < count; k++) {
    const d = across[k];
    const t = along[k];
    // `curveWithSlope`, written out: this is where a measurement spends its time.
    const x = stretch * (d - shiftPx);
    const place = (x + halfPx) / knotPx;
    let profile: number;
    let slope: number;
    if (!(place >= 0 && place < knots)) {
      profile = curveAt(curve, x);
      slope = 0;
    } else {
      const knot = place | 0;
      const at = knot << 2;
      const u = place - knot;
      const c1 = pieces[at + 1];
      const c2 = pieces[at + 2];
      const c3 = pieces[at + 3];
      profile = pieces[at] + u * (c1 + u * (c2 + u * c3));
      slope = (c1 + u * (2 * c2 + 3 * u * c3)) / knotPx;
    }
    const light = level + slopeAcross * d + slopeAlong * t + grain[k];
    const shape = 1 + depth * profile;
    const residual = value[k] - light * shape;
    squares += residual * residual;
    counts[scatterBin(residual)]++;
    const g4 = -light * depth * stretch * slope;
    const share = (residual * residual) / (least + allowance * g4 * g4);
    if (share >= 1) continue;
    const g1 = d * shape;
    const g2 = t * shape;
    const g3 = light * profile;
    const weight = placed[k] * ((1 - share) * (1 - share));
    const w0 = weight * shape;
    const w1 = weight * g1;
    const w2 = weight * g2;
    const w3 = weight * g3;
    const w4 = weight * g4;
    n00 += w0 * shape;
    n10 += w1 * shape;
    n11 += w1 * g1;
    n20 += w2 * shape;
    n21 += w2 * g1;
    n22 += w2 * g2;
    n30 += w3 * shape;
    n31 += w3 * g1;
    n32 += w3 * g2;
    n33 += w3 * g3;
    n40 += w4 * shape;
    n41 += w4 * g1;
    n42 += w4 * g2;
    n43 += w4 * g3;
    n44 += w4 * g4;
    r0 += w0 * residual;
    r1 += w1 * residual;
    r2 += w2 * residual;
    r3 += w3 * residual;
    r4 += w4 * residual;
  }
  scatter.close(count, squares);
  normal[0] = n00;
  normal[5] = n10;
  normal[6] = n11;
  normal[10] = n20;
  normal[11] = n21;
  normal[12] = n22;
  normal[15] = n30;
  normal[16] = n31;
  normal[17] = n32;
  normal[18] = n33;
  normal[20] = n40;
  normal[21] = n41;
  normal[22] = n42;
  normal[23] = n43;
  normal[24] = n44;
  right[0] = r0;
  right[1] = r1;
  right[2] = r2;
  right[3] = r3;
  right[4] = r4;
}

/**
 * Solves for the step, which takes the place of the right side; the diagonal is scaled to one first.
 *
 * @returns variance of the shift by unit weight, or undefined where the equations are singular.
 */
function solveStep({ normal, right, scaling, last }: RegisterRoom): number | undefined {
  const n = UNKNOWNS;
  for (let i = 0; i < n; i++) {
    const diagonal = normal[i * n + i];
    scaling[i] = diagonal > 0 ? 1 / Math.sqrt(diagonal) : 1;
    right[i] *= scaling[i];
    for (let j = 0; j <= i; j++) normal[i * n + j] *= scaling[i] * scaling[j];
    last[i] = 0;
  }
  if (!factorise(normal, n)) return undefined;
  backSubstitute(normal, n, forwardSubstitute(normal, n, right));
  for (let i = 0; i < n; i++) right[i] *= scaling[i];
  // Last diagonal entry of the inverse, from a solution for the last unit vector.
  last[n - 1] = scaling[n - 1];
  backSubstitute(normal, n, forwardSubstitute(normal, n, last));
  return last[n - 1] * scaling[n - 1];
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
  if (leftOut === undefined || !leftOut.includes(true)) return keepAll;
  const pieces = leftOut.length;
  return (along: number) => {
    const piece = Math.floor((along / strip.lengthPx + 0.5) * pieces);
    return !leftOut[Math.min(pieces - 1, Math.max(0, piece))];
  };
}

function keepAll(): boolean {
  return true;
}

function measureNoise(
  strip: Strip,
  curve: MarkCurve,
  at: Registration,
  { stretch, halfPx, leftOut, rowLevels }: RegisterOptions,
  { scatter }: RegisterRoom,
): { robust: number; rms: number } {
  const { across: d, along: t, value } = strip;
  const keep = keepTest(strip, leftOut);
  // A scatter from some hundred pixels is as good a start; odd strides do not keep to one column.
  const stride = 2 * Math.floor(value.length / MOST_FOR_NOISE / 2) + 1;
  let total = 0;
  let squares = 0;
  scatter.clear();
  for (let i = 0; i < value.length; i += stride) {
    if (Math.abs(d[i] - at.shiftPx) > halfPx || !keep(t[i])) continue;
    const light = lightAt(at, rowLevels, d[i], t[i], strip.lengthPx);
    const p = curveAt(curve, stretch * (d[i] - at.shiftPx));
    const residual = value[i] - light * (1 + at.depth * p);
    total++;
    squares += residual * residual;
    scatter.counts[scatterBin(residual)]++;
  }
  scatter.close(total, squares);
  return scatter.read();
}
