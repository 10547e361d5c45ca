/**
 * Pictures of straight marks with known places, and the least scatter that anybody can measure them with.
 * Renders by its own way: the sharp profile is tabulated across the line, spread by the lens and by the pixel's
 * area numerically, and looked up at each pixel's distance. Knows nothing of the code under test.
 */

import type { Stroke } from '../../shared/stroke.js';

/** Sharp profile of a mark: relative deviation from the board's grey at x px across it. */
export type SharpProfile = (xPx: number) => number;

export interface MarkedPicture {
  /** Lines of each family and what lies between them. */
  readonly lines: number;
  readonly pitchMm: number;
  readonly pxPerMm: number;
  /** Turn of the grid in the picture; degrees. */
  readonly rollDeg: number;
  /** Profile at a place of the board, -1…1 both ways: what differs over it is not common to a family. */
  readonly profileAt: (
    axis: 'x' | 'y',
    across: number,
    along: number,
    approach: 1 | -1,
  ) => SharpProfile;
  /** Standard deviation of the lens's blur; px. */
  readonly blurPx: number;
  readonly boardGrey: number;
  /** Standard deviation of each pixel's own noise at the board's grey; grey values. */
  readonly noiseGrey: number;
  /** Share of that noise's variance that grows with the grey (photons); the rest is even. Default 0. */
  readonly photonShare?: number;
  /** Texture of the board, not blurred further. */
  readonly texture?: Texture;
  /** Fall of the light over the picture, share of it. */
  readonly lightFall?: number;
  /** Commanded places of further strokes beside the grid. */
  readonly extra?: readonly Stroke[];
  /** Lines off their commanded places by up to this, as a machine leaves them; mm, default 0.1. */
  readonly wanderMm?: number;
  readonly seed: number;
}

/** Sum of normal fields of equal variance, each smoothed by its own lengths (standard deviations). */
export interface Texture {
  readonly grey: number;
  /** Axis along which the grain runs. */
  readonly grainAlong: 'x' | 'y';
  readonly fields: readonly { readonly alongPx: number; readonly acrossPx: number }[];
}

export interface DrawnPicture {
  readonly grey: { width: number; height: number; data: Uint8Array };
  readonly strokes: readonly Stroke[];
  /** 3×3, row-major, commanded mm → px. */
  readonly homography: Float64Array;
  /** Signed distance of (u, v) from the middle of a stroke's mark, towards the rising coordinate; px. */
  distance(strokeId: number, uPx: number, vPx: number): number;
  /** Grey at (u, v) without noise and rounding may be changed: later blunders. */
  readonly board: {
    readonly uPerMm: readonly [number, number];
    readonly vPerMm: readonly [number, number];
  };
  pxFromMm(xMm: number, yMm: number): [number, number];
  /**
   * Cramér-Rao bound of the offset of the mark between two commanded places, everything but its place known:
   * variance = 1 / Σ (∂g/∂x)² / (noise² + 1/12) over the pixels of the stretch; px.
   */
  boundPx(strokeId: number, fromMm: readonly number[], toMm: readonly number[]): number;
  /** The same in the texture's correlated noise: 1 / gᵀ C⁻¹ g, g the slopes of one stretch's pixels; px. */
  texturedBoundPx(strokeId: number, fromMm: readonly number[], toMm: readonly number[]): number;
}

/** Steps of the tabulated profile; px. */
const STEP_PX = 1 / 32;
/** Half the table; px. Widest mark 30 px, blur 3 px. */
const REACH_PX = 36;
const MARGIN_PX = 60;

interface Table {
  readonly values: Float64Array;
}

interface DrawnLine {
  readonly stroke: Stroke;
  readonly isX: boolean;
  /** True position across; mm. */
  readonly atMm: number;
  /** Profiles at its two ends; between them they are mixed. */
  readonly tables: readonly [Table, Table];
}

export function drawStraightMarks(picture: MarkedPicture): DrawnPicture {
  const { lines, pitchMm, pxPerMm, rollDeg } = picture;
  const random = normalFrom(picture.seed);
  const sizeMm = (lines - 1) * pitchMm;
  const roll = (rollDeg * Math.PI) / 180;
  const c = pxPerMm * Math.cos(roll);
  const s = pxPerMm * Math.sin(roll);
  const extent = sizeMm * (Math.abs(c) + Math.abs(s));
  const width = Math.ceil(extent + 2 * MARGIN_PX);
  const height = width;
  const half = sizeMm / 2;
  const [u0, v0] = [width / 2 + 0.37, height / 2 - 0.21];
  const pxFromMm = (x: number, y: number): [number, number] => [
    u0 + c * (x - half) + s * (y - half),
    v0 + s * (x - half) - c * (y - half),
  ];
  const strokes = [...gridOf(lines, pitchMm), ...(picture.extra ?? [])].map((stroke, id) => ({
    ...stroke,
    id,
    sourceLine: id + 1,
  }));
  const drawn = strokes.map((stroke): DrawnLine => {
    const isX = stroke.fromMm[0] === stroke.toMm[0];
    const commanded = stroke.fromMm[isX ? 0 : 1];
    const at = (mm: number) => (2 * mm) / sizeMm - 1;
    const ends = isX ? [stroke.fromMm[1], stroke.toMm[1]] : [stroke.fromMm[0], stroke.toMm[0]];
    const approach = isX ? stroke.approachX : stroke.approachY;
    // Across in px towards the rising coordinate; the pixel's square seen from there.
    const boxes = isX ? [Math.abs(c), Math.abs(s)] : [Math.abs(s), Math.abs(c)];
    const tables = ends.map((end) =>
      tabulate(
        picture.profileAt(isX ? 'x' : 'y', at(commanded), at(end), approach >= 0 ? 1 : -1),
        picture.blurPx,
        boxes.map((b) => b / pxPerMm),
      ),
    ) as unknown as [Table, Table];
    return {
      stroke,
      isX,
      atMm: commanded + (picture.wanderMm ?? 0.1) * (2 * random.uniform() - 1),
      tables,
    };
  });

  const texture = picture.texture;
  const fields = texture === undefined ? undefined : makeTexture(texture, width, height, random);
  const data = new Uint8Array(width * height);
  const p2 = pxPerMm * pxPerMm;
  const read = picture.noiseGrey ** 2 * (1 - (picture.photonShare ?? 0));
  const photons = (picture.noiseGrey ** 2 * (picture.photonShare ?? 0)) / picture.boardGrey;
  const sorted = [true, false].map((isX) => drawn.filter((line) => line.isX === isX));
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) {
      const du = u - u0;
      const dv = v - v0;
      const x = (c * du + s * dv) / p2 + half;
      const y = (s * du - c * dv) / p2 + half;
      let light = picture.boardGrey * (1 + (picture.lightFall ?? 0) * (du / width + dv / height));
      if (fields !== undefined) light += fields(x * pxPerMm, y * pxPerMm);
      for (const line of sorted[0]) light *= 1 + greyShareOf(line, x, y, pxPerMm);
      for (const line of sorted[1]) light *= 1 + greyShareOf(line, x, y, pxPerMm);
      const sigma = Math.sqrt(read + photons * Math.max(0, light));
      data[v * width + u] = Math.max(0, Math.min(255, Math.round(light + sigma * random.normal())));
    }
  }
  const mmFromPx = (u: number, v: number): [number, number] => [
    (c * (u - u0) + s * (v - v0)) / p2 + half,
    (s * (u - u0) - c * (v - v0)) / p2 + half,
  ];
  /** Slopes ∂g/∂x and places of a stretch's pixels. */
  const slopesOf = (
    strokeId: number,
    fromMm: readonly number[],
    toMm: readonly number[],
    reachPx: number,
  ) => {
    const line = drawn[strokeId];
    const along = line.isX ? 1 : 0;
    const corners = [fromMm, toMm].map(([x, y]) => pxFromMm(x, y));
    const range = (k: 0 | 1, sign: 1 | -1) =>
      sign === -1
        ? Math.floor(Math.min(corners[0][k], corners[1][k]) - reachPx)
        : Math.ceil(Math.max(corners[0][k], corners[1][k]) + reachPx);
    const pixels: { slope: number; sigma2: number; across: number; along: number }[] = [];
    for (let v = range(1, -1); v <= range(1, 1); v++) {
      for (let u = range(0, -1); u <= range(0, 1); u++) {
        const place = mmFromPx(u, v);
        if (place[along] < fromMm[along] || place[along] > toMm[along]) continue;
        const d = (place[1 - along] - line.atMm) * pxPerMm;
        if (Math.abs(d) > reachPx) continue;
        const light =
          picture.boardGrey *
          (1 + (picture.lightFall ?? 0) * ((u - u0) / width + (v - v0) / height));
        const t = shareAlong(line, place[along]);
        const slope =
          (light * (mix(line, t, d + STEP_PX) - mix(line, t, d - STEP_PX))) / (2 * STEP_PX);
        const grey = light * (1 + mix(line, t, d));
        pixels.push({
          slope,
          // Rounding to whole grey values: 1/12.
          sigma2: read + photons * grey + 1 / 12,
          across: d,
          along: place[along] * pxPerMm,
        });
      }
    }
    return pixels;
  };
  return {
    grey: { width, height, data },
    strokes,
    homography: Float64Array.of(c, s, u0 - (c + s) * half, s, -c, v0 - (s - c) * half, 0, 0, 1),
    board: { uPerMm: [c, s], vPerMm: [s, -c] },
    pxFromMm,
    distance(strokeId, u, v) {
      const line = drawn[strokeId];
      return (mmFromPx(u, v)[line.isX ? 0 : 1] - line.atMm) * pxPerMm;
    },
    boundPx(strokeId, fromMm, toMm) {
      const information = slopesOf(strokeId, fromMm, toMm, REACH_PX - 1).reduce(
        (sum, { slope, sigma2 }) => sum + (slope * slope) / sigma2,
        0,
      );
      return 1 / Math.sqrt(information);
    },
    texturedBoundPx(strokeId, fromMm, toMm) {
      const line = drawn[strokeId];
      const all = slopesOf(strokeId, fromMm, toMm, REACH_PX - 1);
      const steepest = Math.max(...all.map((p) => Math.abs(p.slope)));
      const far = Math.max(
        ...all.map((p) => (Math.abs(p.slope) > 0.02 * steepest ? Math.abs(p.across) : 0)),
      );
      const pixels = all.filter((p) => Math.abs(p.across) <= far + 4);
      return 1 / Math.sqrt(whitenedInformation(pixels, texture, line.isX));
    },
  };
}

/** The grid: lines along Y, then along X, by turns approached from both sides. */
function gridOf(lines: number, pitchMm: number): Stroke[] {
  const end = (lines - 1) * pitchMm;
  const strokes: Stroke[] = [];
  for (const isX of [true, false]) {
    for (let i = 0; i < lines; i++) {
      const at = i * pitchMm;
      const approach = i % 2 === 0 ? 1 : -1;
      strokes.push({
        id: strokes.length,
        fromMm: isX ? [at, 0] : [0, at],
        toMm: isX ? [at, end] : [end, at],
        approachX: isX ? approach : 1,
        approachY: isX ? 1 : approach,
        sourceLine: strokes.length + 1,
      });
    }
  }
  return strokes;
}

function shareAlong({ stroke, isX }: DrawnLine, alongMm: number): number {
  const k = isX ? 1 : 0;
  const t = (alongMm - stroke.fromMm[k]) / (stroke.toMm[k] - stroke.fromMm[k]);
  return Math.min(1, Math.max(0, t));
}

function greyShareOf(line: DrawnLine, x: number, y: number, pxPerMm: number): number {
  const [across, along] = line.isX ? [x, y] : [y, x];
  const d = (across - line.atMm) * pxPerMm;
  if (d < -REACH_PX + 1 || d > REACH_PX - 1) return 0;
  const k = line.isX ? 1 : 0;
  const ends = [line.stroke.fromMm[k], line.stroke.toMm[k]];
  if (along < Math.min(...ends) || along > Math.max(...ends)) return 0;
  return mix(line, shareAlong(line, along), d);
}

function mix({ tables: [a, b] }: DrawnLine, t: number, d: number): number {
  return a === b ? lookUp(a, d) : (1 - t) * lookUp(a, d) + t * lookUp(b, d);
}

function lookUp({ values }: Table, d: number): number {
  const at = (d + REACH_PX) / STEP_PX;
  const i = Math.floor(at);
  if (i < 0 || i + 1 >= values.length) return 0;
  return values[i] + (at - i) * (values[i + 1] - values[i]);
}

/** The sharp profile spread by a normal blur and by the boxes that a pixel's square casts across the line. */
function tabulate(profile: SharpProfile, blurPx: number, boxesPx: readonly number[]): Table {
  const n = (2 * REACH_PX) / STEP_PX + 1;
  // Means over each step, from five points: edges fall between the steps.
  let values = Float64Array.from({ length: n }, (_, i) => {
    let sum = 0;
    for (let k = -2; k <= 2; k++) sum += profile((i + k / 5) * STEP_PX - REACH_PX) / 5;
    return sum;
  });
  const reach = Math.ceil((5 * blurPx) / STEP_PX);
  const kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-0.5 * (((i - reach) * STEP_PX) / Math.max(1e-6, blurPx)) ** 2),
  );
  values = convolve(values, kernel);
  for (const box of boxesPx) {
    // Whole steps inside and a share of one at either end.
    const steps = box / STEP_PX;
    const whole = Math.max(0, Math.floor((steps - 1) / 2));
    const rest = Math.max(0, (steps - 1 - 2 * whole) / 2);
    values = convolve(
      values,
      Float64Array.from({ length: 2 * whole + 3 }, (_, i) =>
        i === 0 || i === 2 * whole + 2 ? rest : 1,
      ),
    );
  }
  return { values };
}

/** Normalised; nothing beyond the ends. */
function convolve(values: Float64Array, kernel: Float64Array): Float64Array<ArrayBuffer> {
  const reach = (kernel.length - 1) / 2;
  const sum = kernel.reduce((a, b) => a + b, 0);
  return Float64Array.from(values, (_, i) => {
    let out = 0;
    const from = Math.max(0, i - reach);
    const to = Math.min(values.length - 1, i + reach);
    for (let j = from; j <= to; j++) out += values[j] * kernel[j - i + reach];
    return out / sum;
  });
}

/** Grid spacing of the texture's fields; px of the board's own axes. */
const TEXTURE_PX = 0.5;

function makeTexture(
  texture: Texture,
  width: number,
  height: number,
  random: ReturnType<typeof normalFrom>,
): (xPx: number, yPx: number) => number {
  // A roll turns the board's axes: the diagonal holds all of it.
  const n = Math.ceil(Math.hypot(width, height) / TEXTURE_PX);
  const total = new Float32Array(n * n);
  const share = texture.grey / Math.sqrt(texture.fields.length);
  for (const { alongPx, acrossPx } of texture.fields) {
    const field = Float32Array.from({ length: n * n }, () => random.normal());
    const [x, y] = texture.grainAlong === 'x' ? [alongPx, acrossPx] : [acrossPx, alongPx];
    smooth(field, n, 1, x / TEXTURE_PX);
    smooth(field, n, n, y / TEXTURE_PX);
    for (let i = 0; i < field.length; i++) total[i] += share * field[i];
  }
  const shift = Math.floor(n / 4);
  return (xPx, yPx) => {
    const a = xPx / TEXTURE_PX + shift;
    const b = yPx / TEXTURE_PX + shift;
    const i = Math.floor(a);
    const j = Math.floor(b);
    if (i < 0 || j < 0 || i + 1 >= n || j + 1 >= n) return 0;
    const k = j * n + i;
    const upper = total[k] + (a - i) * (total[k + 1] - total[k]);
    const lower = total[k + n] + (a - i) * (total[k + n + 1] - total[k + n]);
    return upper + (b - j) * (lower - upper);
  };
}

/** Normal smoothing in place along one direction; white noise of variance 1 keeps its variance. */
function smooth(field: Float32Array, n: number, step: 1 | number, sigma: number): void {
  if (sigma >= LEAST_BOXED) {
    smoothByBoxes(field, n, step, sigma);
    return;
  }
  const reach = Math.ceil(3.5 * sigma);
  const kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-0.5 * ((i - reach) / sigma) ** 2),
  );
  const norm = Math.sqrt(kernel.reduce((sum, k) => sum + k * k, 0));
  const row = new Float64Array(n);
  for (let r = 0; r < n; r++) {
    const base = step === 1 ? r * n : r;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      const from = Math.max(-reach, -i);
      const to = Math.min(reach, n - 1 - i);
      for (let k = from; k <= to; k++) sum += kernel[k + reach] * field[base + (i + k) * step];
      row[i] = sum / norm;
    }
    for (let i = 0; i < n; i++) field[base + i * step] = row[i];
  }
}

/** Standard deviation in steps from which on four boxes stand for a normal kernel: its long kernels took minutes. */
const LEAST_BOXED = 16;
const BOXES = 4;

/** Four moving sums, of two odd widths whose variances come nearest to σ² together. */
function smoothByBoxes(field: Float32Array, n: number, step: 1 | number, sigma: number): void {
  const ideal = Math.sqrt((12 * sigma * sigma) / BOXES + 1);
  const narrow = 2 * Math.floor((ideal - 1) / 2) + 1;
  // variance = Σ (w² - 1) / 12; the wider ones are narrow + 2.
  const lacking = 12 * sigma * sigma - BOXES * (narrow * narrow - 1);
  const wider = Math.round(lacking / (4 * narrow + 4));
  let kernel = Float64Array.of(1);
  for (let k = 0; k < BOXES; k++) {
    const half = ((k < wider ? narrow + 2 : narrow) - 1) / 2;
    kernel = widen(kernel, half);
    if (step === 1) for (let r = 0; r < n; r++) sumRow(field, n, r * n, half);
    else sumColumns(field, n, half);
  }
  const norm = Math.sqrt(kernel.reduce((sum, k) => sum + k * k, 0));
  for (let i = 0; i < field.length; i++) field[i] /= norm;
}

function widen(kernel: Float64Array, half: number): Float64Array<ArrayBuffer> {
  const out = new Float64Array(kernel.length + 2 * half);
  kernel.forEach((value, i) => {
    for (let k = 0; k <= 2 * half; k++) out[i + k] += value;
  });
  return out;
}

function sumRow(field: Float32Array, n: number, base: number, half: number): void {
  const before = field.slice(base, base + n);
  let sum = 0;
  for (let i = -half; i < n; i++) {
    if (i + half < n) sum += before[i + half];
    if (i - half - 1 >= 0) sum -= before[i - half - 1];
    if (i >= 0) field[base + i] = sum;
  }
}

/** All columns at once, row by row: one after the other they would miss the cache. */
function sumColumns(field: Float32Array, n: number, half: number): void {
  const before = field.slice();
  const sums = new Float64Array(n);
  for (let i = -half; i < n; i++) {
    const enters = i + half < n ? (i + half) * n : undefined;
    const leaves = i - half - 1 >= 0 ? (i - half - 1) * n : undefined;
    for (let r = 0; r < n; r++) {
      if (enters !== undefined) sums[r] += before[enters + r];
      if (leaves !== undefined) sums[r] -= before[leaves + r];
      if (i >= 0) field[i * n + r] = sums[r];
    }
  }
}

/** gᵀ C⁻¹ g with C = diag(noise² + 1/12) + the texture's covariance between the pixels. */
function whitenedInformation(
  pixels: readonly { slope: number; sigma2: number; across: number; along: number }[],
  texture: Texture | undefined,
  isX: boolean,
): number {
  const n = pixels.length;
  const lower = new Float64Array(n * n);
  const isAlong = texture !== undefined && (texture.grainAlong === 'y') === isX;
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = i === j ? pixels[i].sigma2 : 0;
      for (const field of texture?.fields ?? []) {
        const [a, b] = isAlong ? [field.alongPx, field.acrossPx] : [field.acrossPx, field.alongPx];
        const dt = (pixels[i].along - pixels[j].along) / a;
        const dd = (pixels[i].across - pixels[j].across) / b;
        sum +=
          ((texture?.grey ?? 0) ** 2 / (texture?.fields.length ?? 1)) *
          Math.exp(-(dt * dt + dd * dd) / 4);
      }
      for (let k = 0; k < j; k++) sum -= lower[i * n + k] * lower[j * n + k];
      lower[i * n + j] = i === j ? Math.sqrt(sum) : sum / lower[j * n + j];
    }
  }
  let information = 0;
  const white = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let sum = pixels[i].slope;
    for (let k = 0; k < i; k++) sum -= lower[i * n + k] * white[k];
    white[i] = sum / lower[i * n + i];
    information += white[i] ** 2;
  }
  return information;
}

/** Uniform and normal numbers: a 32-bit xorshift (Marsaglia 2003) and the polar method. */
export function normalFrom(seed: number): { uniform(): number; normal(): number } {
  let state = (Math.imul(seed + 1, 0x9e3779b1) ^ 0x5bd1e995) >>> 0 || 1;
  let spare: number | undefined;
  const uniform = () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 4294967296;
  };
  for (let i = 0; i < 20; i++) uniform();
  return {
    uniform,
    normal() {
      if (spare !== undefined) {
        const value = spare;
        spare = undefined;
        return value;
      }
      for (;;) {
        const a = 2 * uniform() - 1;
        const b = 2 * uniform() - 1;
        const q = a * a + b * b;
        if (q >= 1 || q === 0) continue;
        const f = Math.sqrt((-2 * Math.log(q)) / q);
        spare = b * f;
        return a * f;
      }
    },
  };
}
