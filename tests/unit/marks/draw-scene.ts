/** Plain drawn pictures of marked boards, with their truth. Knows nothing of the code under test. */

import type { Stroke } from '../../../shared/stroke.js';

export interface SceneOptions {
  readonly width: number;
  readonly height: number;
  readonly strokes: readonly Stroke[];
  /** Tilt of the camera against square-on, and the direction it leans to; degrees. */
  readonly tiltDeg?: number;
  readonly leanDeg?: number;
  /** Turn of the camera about its axis; degrees. */
  readonly rollDeg?: number;
  /** Share of the picture's shorter side that the grid's longer side takes. */
  readonly fill?: number;
  /** Where the camera points, instead of the grid's middle; mm. */
  readonly aimMm?: readonly [number, number];
  /** Board length across the picture's shorter side, instead of `fill`; mm. */
  readonly acrossMm?: number;
  /** Bare board around the grid: left, lower, right, upper; mm. */
  readonly borderMm?: readonly [number, number, number, number];
  /** Radial distortion at half the diagonal, share of the radius. */
  readonly distortion?: number;
  readonly markPx?: number;
  /** Grey values; negative is dark. */
  readonly markGrey?: number;
  /** A bright flank beside the dark one, as raking light makes. */
  readonly grooved?: boolean;
  readonly noiseGrey?: number;
  readonly grainGrey?: number;
  /** Share of the board hidden under discs. */
  readonly covered?: number;
  /** Straight dark lines of other things. */
  readonly clutter?: number;
  readonly seed?: number;
  /** Grey of the bare board at a place on it, instead of grain that is drawn anew for each seed. */
  readonly board?: (xMm: number, yMm: number) => number;
  /** Share of the light that reaches a pixel. */
  readonly shade?: (u: number, v: number) => number;
}

export interface Scene {
  readonly grey: { width: number; height: number; data: Uint8Array };
  /** Where a commanded position truly lies; px. */
  readonly truth: (xMm: number, yMm: number) => readonly [number, number];
}

/** Strokes of a grid: lines along Y, then lines along X. */
export function gridStrokes(xs: readonly number[], ys: readonly number[]): Stroke[] {
  const strokes: Stroke[] = [];
  const add = (x1: number, y1: number, x2: number, y2: number) =>
    strokes.push(straight(strokes.length, x1, y1, x2, y2));
  for (const x of xs) add(x, ys[0], x, ys[ys.length - 1]);
  for (const y of ys) add(xs[0], y, xs[xs.length - 1], y);
  return strokes;
}

export function straight(id: number, x1: number, y1: number, x2: number, y2: number): Stroke {
  return {
    id,
    fromMm: [x1, y1],
    toMm: [x2, y2],
    approachX: 1,
    approachY: 1,
    sourceLine: id + 1,
  };
}

export function evenly(count: number, pitch: number): number[] {
  return Array.from({ length: count }, (_, i) => i * pitch);
}

/** Mulberry32: small, seeded, good enough for pictures. */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function drawScene(options: SceneOptions): Scene {
  const { width, height, strokes } = options;
  const random = randomFrom(options.seed ?? 1);
  const camera = placeCamera(options);
  const marks = drawMarks(options, camera.project);
  const cover = drawCovers(options, camera.project, random);
  const data = new Uint8Array(width * height);
  const grain = smoothNoise(random);
  const light = 0.8 + 0.4 * random();
  const grainGrey = options.grainGrey ?? 6;
  const noiseGrey = options.noiseGrey ?? 3;
  const bounds = boundsOf(strokes);
  const [left, lower, right, upper] = options.borderMm ?? [60, 40, 45, 70];
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) {
      const i = v * width + u;
      const [x, y] = camera.unproject(u, v);
      const onBoard =
        x > bounds.x0 - left &&
        x < bounds.x1 + right &&
        y > bounds.y0 - lower &&
        y < bounds.y1 + upper;
      let value = onBoard
        ? (options.board?.(x, y) ?? 150 + grainGrey * grain(x / 60, y / 2.5))
        : 90 + 25 * grain(u / 9, v / 9);
      value += 30 * light * (u / width - 0.5) + 20 * (v / height - 0.5);
      value += marks[i] * (onBoard ? 1 : 0);
      if (cover[i] !== 0) value = cover[i];
      if (options.shade !== undefined) value *= options.shade(u, v);
      // Sum of three uniform numbers: near enough to a normal one.
      value += noiseGrey * 2 * (random() + random() + random() - 1.5);
      data[i] = Math.max(0, Math.min(255, Math.round(value)));
    }
  }
  return { grey: { width, height, data }, truth: camera.project };
}

function boundsOf(strokes: readonly Stroke[]) {
  const xs = strokes.flatMap((s) => [s.fromMm[0], s.toMm[0]]);
  const ys = strokes.flatMap((s) => [s.fromMm[1], s.toMm[1]]);
  return {
    x0: Math.min(...xs),
    x1: Math.max(...xs),
    y0: Math.min(...ys),
    y1: Math.max(...ys),
  };
}

function placeCamera(options: SceneOptions) {
  const { width, height } = options;
  const b = boundsOf(options.strokes);
  const middle = options.aimMm ?? [(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2];
  const f = 0.75 * Math.max(width, height);
  const across = Math.hypot(b.x1 - b.x0, b.y1 - b.y0) * 0.75;
  const distance =
    options.acrossMm === undefined
      ? (f * across) / ((options.fill ?? 0.75) * Math.min(width, height))
      : (f * options.acrossMm) / Math.min(width, height);
  const rad = Math.PI / 180;
  const tilt = (options.tiltDeg ?? 0) * rad;
  const lean = (options.leanDeg ?? 0) * rad;
  const roll = (options.rollDeg ?? 0) * rad;
  const radius = Math.hypot(width, height) / 2;
  const k = options.distortion ?? 0;
  const cu = (width - 1) / 2;
  const cv = (height - 1) / 2;
  // Board seen from above: turn to the lean, tilt, turn back and roll. Image v runs downwards.
  const rotate = (x: number, y: number) => {
    const a = Math.cos(lean) * x + Math.sin(lean) * y;
    const c = -Math.sin(lean) * x + Math.cos(lean) * y;
    const a2 = a * Math.cos(tilt);
    const depth = distance + a * Math.sin(tilt);
    const x2 = Math.cos(roll - lean) * a2 + Math.sin(roll - lean) * c;
    const y2 = -Math.sin(roll - lean) * a2 + Math.cos(roll - lean) * c;
    return [x2, y2, depth] as const;
  };
  const project = (xMm: number, yMm: number): readonly [number, number] => {
    const [x, y, depth] = rotate(xMm - middle[0], yMm - middle[1]);
    const du = (f * x) / depth;
    const dv = (-f * y) / depth;
    const swell = 1 + k * ((du * du + dv * dv) / (radius * radius));
    return [cu + du * swell, cv + dv * swell];
  };
  const unproject = (u: number, v: number): readonly [number, number] => {
    let du = u - cu;
    let dv = v - cv;
    const swell = 1 + k * ((du * du + dv * dv) / (radius * radius));
    du /= swell;
    dv /= swell;
    const x2 = du / f;
    const y2 = -dv / f;
    const a2 = Math.cos(roll - lean) * x2 - Math.sin(roll - lean) * y2;
    const c2 = Math.sin(roll - lean) * x2 + Math.cos(roll - lean) * y2;
    const a = (a2 * distance) / (Math.cos(tilt) - a2 * Math.sin(tilt));
    const c = c2 * (distance + a * Math.sin(tilt));
    return [
      middle[0] + Math.cos(lean) * a - Math.sin(lean) * c,
      middle[1] + Math.sin(lean) * a + Math.cos(lean) * c,
    ];
  };
  return { project, unproject };
}

/** Grey values to add for the marks, anti-aliased. */
function drawMarks(
  options: SceneOptions,
  project: (x: number, y: number) => readonly [number, number],
): Float32Array {
  const { width, height } = options;
  const layer = new Float32Array(width * height);
  const half = (options.markPx ?? 3) / 2;
  const depth = options.markGrey ?? -45;
  const reach = Math.ceil(2 * half + 1);
  const visit = (stroke: Stroke) => {
    const [x1, y1] = stroke.fromMm;
    const [x2, y2] = stroke.toMm;
    const a = project(x1, y1);
    const e = project(x2, y2);
    const steps = Math.ceil(2 * Math.hypot(e[0] - a[0], e[1] - a[1]));
    for (let s = 0; s <= steps; s++) {
      const t = s / steps;
      const p = project(x1 + t * (x2 - x1), y1 + t * (y2 - y1));
      const q = project(x1 + (t + 1e-4) * (x2 - x1), y1 + (t + 1e-4) * (y2 - y1));
      const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
      const nu = -(q[1] - p[1]) / length;
      const nv = (q[0] - p[0]) / length;
      const isSteep = Math.abs(nu) > Math.abs(nv);
      const u0 = Math.round(p[0]);
      const v0 = Math.round(p[1]);
      for (let o = -reach; o <= reach; o++) {
        const u = isSteep ? u0 + o : u0;
        const v = isSteep ? v0 : v0 + o;
        if (u < 0 || v < 0 || u >= width || v >= height) continue;
        const off = (u - p[0]) * nu + (v - p[1]) * nv;
        const i = v * width + u;
        const inside = Math.max(0, Math.min(1, half + 0.5 - Math.abs(off)));
        if (inside === 0) continue;
        // A groove lit from one side: its sense follows the light, not the drawing.
        const value = options.grooved
          ? depth * inside * (off * Math.sign(nu + 0.3 * nv) > 0 ? 1 : -0.8)
          : depth * inside;
        if (Math.abs(value) > Math.abs(layer[i])) layer[i] = value;
      }
    }
  };
  for (const stroke of options.strokes) visit(stroke);
  return layer;
}

/** Discs over the board, and other lines over everything; 0 where nothing lies. */
function drawCovers(
  options: SceneOptions,
  project: (x: number, y: number) => readonly [number, number],
  random: () => number,
): Float32Array {
  const { width, height } = options;
  const layer = new Float32Array(width * height);
  const b = boundsOf(options.strokes);
  for (let k = 0; k < (options.clutter ?? 0); k++) {
    const angle = random() * Math.PI;
    const u0 = random() * width;
    const v0 = random() * height;
    for (let t = -width; t < width; t += 0.5) {
      const u = Math.round(u0 + t * Math.cos(angle));
      const v = Math.round(v0 + t * Math.sin(angle));
      if (u >= 1 && v >= 1 && u < width - 1 && v < height - 1) {
        layer[v * width + u] = 60;
        layer[v * width + u + 1] = 60;
      }
    }
  }
  const want = (options.covered ?? 0) * (b.x1 - b.x0) * (b.y1 - b.y0);
  for (let area = 0; area < want; ) {
    const size = (0.03 + 0.05 * random()) * (b.x1 - b.x0);
    const x = b.x0 + random() * (b.x1 - b.x0);
    const y = b.y0 + random() * (b.y1 - b.y0);
    const [u, v] = project(x, y);
    const [ue, ve] = project(x + size, y);
    const r = Math.hypot(ue - u, ve - v);
    const value = random() < 0.5 ? 25 : 235;
    for (let dv = -Math.ceil(r); dv <= r; dv++) {
      for (let du = -Math.ceil(r); du <= r; du++) {
        const px = Math.round(u + du);
        const py = Math.round(v + dv);
        if (du * du + dv * dv <= r * r && px >= 0 && py >= 0 && px < width && py < height) {
          layer[py * width + px] = value;
        }
      }
    }
    area += Math.PI * size * size;
  }
  return layer;
}

/** Value noise, about -1..1. */
export function smoothNoise(random: () => number): (x: number, y: number) => number {
  const size = 256;
  const table = Float32Array.from({ length: size * size }, () => 2 * random() - 1);
  const at = (x: number, y: number) => table[(y & (size - 1)) * size + (x & (size - 1))];
  return (x, y) => {
    const i = Math.floor(x);
    const j = Math.floor(y);
    const a = x - i;
    const c = y - j;
    return (
      (at(i, j) * (1 - a) + at(i + 1, j) * a) * (1 - c) +
      (at(i, j + 1) * (1 - a) + at(i + 1, j + 1) * a) * c
    );
  };
}
