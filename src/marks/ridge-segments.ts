/** Straight pieces of thin lines, linked from the crests of a ridge map. */

import { DIRECTIONS, type RidgeField, type RidgeMap, SATURATION } from './ridge-field.js';

export interface Segment {
  readonly x1: number;
  readonly y1: number;
  readonly x2: number;
  readonly y2: number;
  readonly lengthPx: number;
  /** Length times mean strength: how much the piece says. */
  readonly weight: number;
  /** Median curvature along it against its mean saturated one, at least 1: bold lines stand out. */
  readonly boldness: number;
}

/** Crests below this mean strength are texture: pure noise stays under it nearly everywhere. */
const LEAST_STRENGTH = 0.85;
/** Gaps bridged when following a line: a crossing hides about this much of it; px. */
const LONGEST_GAP_PX = 6;
/** A piece shorter than this says too little about its direction; px. */
const SHORTEST_PX = 11;
/** A chain is cut where it leaves its chord by more than this; px. */
const STRAIGHTNESS_PX = 1.1;

/**
 * @param map the strongest lines in the field, for marks of one sign.
 * @returns segments in pixels of the ridge map, strongest first.
 */
export function linkSegments(map: RidgeMap, field: RidgeField): Segment[] {
  const crest = markCrests(map);
  const segments: Segment[] = [];
  for (const seed of strongestFirst(crest, map.strength)) {
    if (crest[seed] !== 1) continue;
    crest[seed] = 2;
    const ahead = follow(map, crest, seed, 1);
    const behind = follow(map, crest, seed, -1);
    const chain = [...behind.reverse(), seed, ...ahead];
    if (chain.length >= SHORTEST_PX - LONGEST_GAP_PX) {
      cutStraight(map, field, chain, 0, chain.length - 1, segments);
    }
  }
  return segments.sort((a, b) => b.weight - a.weight);
}

/** Places of the crests; of equally strong ones the first comes first. */
function strongestFirst(crest: Uint8Array, strength: Float32Array): Uint32Array {
  let count = 0;
  for (let i = 0; i < crest.length; i++) count += crest[i];
  // Strength and place in one number, both exact, sort in a fifth of the time that a comparison of two takes.
  const bits = new Uint32Array(strength.buffer, strength.byteOffset, strength.length);
  const keys = new Float64Array(count);
  for (let i = 0, k = 0; i < crest.length; i++) {
    if (crest[i]) keys[k++] = (STRONGEST_BITS - bits[i]) * crest.length + i;
  }
  keys.sort();
  return Uint32Array.from(keys, (key) => key % crest.length);
}

/** Bits of the largest strength: of positive floats, larger ones have larger bits. */
const STRONGEST_BITS = new Uint32Array(Float32Array.of(SATURATION).buffer)[0];

function markCrests(map: RidgeMap): Uint8Array {
  const { width, height, strength, direction } = map;
  const crest = new Uint8Array(width * height);
  const acrossX = new Int32Array(DIRECTIONS);
  const acrossY = new Int32Array(DIRECTIONS);
  for (let d = 0; d < DIRECTIONS; d++) {
    const angle = (d * Math.PI) / DIRECTIONS;
    acrossX[d] = Math.round(-Math.sin(angle));
    acrossY[d] = Math.round(Math.cos(angle));
  }
  for (let y = 2; y < height - 2; y++) {
    for (let x = 2; x < width - 2; x++) {
      const i = y * width + x;
      const s = strength[i];
      if (s < LEAST_STRENGTH) continue;
      const step = acrossY[direction[i]] * width + acrossX[direction[i]];
      if (s >= strength[i + step] && s > strength[i - step]) crest[i] = 1;
    }
  }
  return crest;
}

function follow(map: RidgeMap, crest: Uint8Array, seed: number, sense: 1 | -1): number[] {
  const { width, height, direction } = map;
  const chain: number[] = [];
  let angle = (direction[seed] * Math.PI) / DIRECTIONS + (sense < 0 ? Math.PI : 0);
  let x = seed % width;
  let y = (seed - x) / width;
  for (;;) {
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    let next = -1;
    for (let step = 1; step <= LONGEST_GAP_PX && next < 0; step++) {
      for (const side of step > 3 ? [0, 1, -1, 2, -2] : [0, 1, -1]) {
        const u = Math.round(x + step * cos - side * sin);
        const v = Math.round(y + step * sin + side * cos);
        if (u < 0 || v < 0 || u >= width || v >= height) continue;
        const i = v * width + u;
        if (crest[i] !== 1) continue;
        if (Math.abs(turnBetween(angle, (direction[i] * Math.PI) / DIRECTIONS)) > 0.3) continue;
        next = i;
        break;
      }
    }
    if (next < 0) return chain;
    crest[next] = 2;
    chain.push(next);
    x = next % width;
    y = (next - x) / width;
    const own = turnBetween(angle, (direction[next] * Math.PI) / DIRECTIONS);
    // The chain's own course is finer than the 7.5° steps of the map.
    angle += 0.2 * own;
    const back = chain[chain.length - 12];
    if (back !== undefined) {
      const bx = back % width;
      angle = Math.atan2(y - (back - bx) / width, x - bx);
    }
  }
}

/** Smallest turn from a heading to an undirected line, rad, in -π/2..π/2. */
function turnBetween(heading: number, line: number): number {
  const turn = line - heading;
  return turn - Math.PI * Math.round(turn / Math.PI);
}

function cutStraight(
  map: RidgeMap,
  field: RidgeField,
  chain: readonly number[],
  first: number,
  last: number,
  out: Segment[],
): void {
  const { width } = map;
  const ax = chain[first] % width;
  const ay = Math.floor(chain[first] / width);
  const bx = chain[last] % width;
  const by = Math.floor(chain[last] / width);
  const length = Math.hypot(bx - ax, by - ay);
  if (length < SHORTEST_PX) return;
  let worst = STRAIGHTNESS_PX;
  let cut = -1;
  for (let k = first + 1; k < last; k++) {
    const x = (chain[k] % width) - ax;
    const y = Math.floor(chain[k] / width) - ay;
    const off = Math.abs(x * (by - ay) - y * (bx - ax)) / length;
    if (off > worst) {
      worst = off;
      cut = k;
    }
  }
  if (cut >= 0) {
    cutStraight(map, field, chain, first, cut, out);
    cutStraight(map, field, chain, cut, last, out);
    return;
  }
  out.push(fitSegment(map, field, chain, first, last, length));
}

function fitSegment(
  map: RidgeMap,
  field: RidgeField,
  chain: readonly number[],
  first: number,
  last: number,
  chord: number,
): Segment {
  const { width, strength, direction } = map;
  let n = 0;
  let mx = 0;
  let my = 0;
  let total = 0;
  const xs: number[] = [];
  const ys: number[] = [];
  for (let k = first; k <= last; k++) {
    const i = chain[k];
    const angle = (direction[i] * Math.PI) / DIRECTIONS;
    const nx = Math.round(-Math.sin(angle));
    const ny = Math.round(Math.cos(angle));
    const before = strength[i - ny * width - nx];
    const after = strength[i + ny * width + nx];
    const bend = before + after - 2 * strength[i];
    const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (before - after) / (2 * bend))) : 0;
    xs.push((i % width) + shift * nx);
    ys.push(Math.floor(i / width) + shift * ny);
    mx += xs[n];
    my += ys[n];
    total += strength[i];
    n++;
  }
  mx /= n;
  my /= n;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let k = 0; k < n; k++) {
    sxx += (xs[k] - mx) ** 2;
    sxy += (xs[k] - mx) * (ys[k] - my);
    syy += (ys[k] - my) ** 2;
  }
  const angle = 0.5 * Math.atan2(2 * sxy, sxx - syy);
  const cos = (Math.cos(angle) * chord) / 2;
  const sin = (Math.sin(angle) * chord) / 2;
  const weight = chord * (total / n) * Math.min(1, n / chord);
  const boldness =
    total / n < SATURATED
      ? 1
      : Math.max(1, medianCurvature(field, chain, first, last, angle) / (total / n));
  return {
    x1: mx - cos,
    y1: my - sin,
    x2: mx + cos,
    y2: my + sin,
    lengthPx: chord,
    weight,
    boldness,
  };
}

/** Means above this are cut off in most of their pixels. */
const SATURATED = 0.75 * SATURATION;

function medianCurvature(
  field: RidgeField,
  chain: readonly number[],
  first: number,
  last: number,
  angle: number,
): number {
  const { curvature } = field;
  const cos = Math.cos(angle);
  const sin = Math.sin(angle);
  const all = new Float64Array(last - first + 1);
  for (let k = first; k <= last; k++) {
    const i = 3 * chain[k];
    const c =
      sin * sin * curvature[i] - 2 * sin * cos * curvature[i + 1] + cos * cos * curvature[i + 2];
    all[k - first] = Math.abs(c);
  }
  return all.sort()[all.length >> 1];
}
