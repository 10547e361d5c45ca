/**
 * First pass: how far each mark lies from where the map puts it, to a fraction of a pixel, in a
 * window wide enough for a map that is off by several pixels.
 */

import { median, medianInPlace } from '../numerics/index.js';
import type { GreyImage } from '../quantity/index.js';
import { gatherStrip, type Strip, StripRoom } from './gather-strip.js';
import type { SegmentPlace } from './place-segments.js';

export interface RoughOffset {
  readonly place: SegmentPlace;
  /** Seen minus predicted along the normal; px. */
  readonly offsetPx: number;
  /** Correlation with the family's profile, 0..1. */
  readonly likeness: number;
  /** Size of the mark against the family's profile. */
  readonly amplitude: number;
}

export interface RoughFamily {
  readonly offsets: readonly RoughOffset[];
  /** Half-width of the mark with its fringes; px. */
  readonly halfMarkPx: number;
  /** Segments whose strip lies in the picture. */
  readonly seen: number;
}

/** Widest half-window; px. Marks are up to 30 px wide, and some px of error and background. */
const WIDEST_PX = 44;
/** Largest error of the map that is looked for; px. */
const SEARCH_PX = 7;
/** Kept beside a mark of known width, twice as wide as it was: what is searched, and background for the level. */
const ROOM_PX = SEARCH_PX + 5;
const BIN_PX = 0.5;
const ROUNDS = 3;
/** So many segments, as share, may have a neighbour's mark nearer than the averaged profile reaches. */
const CUT_SHORT = 0.25;
/** More segments make the mean profile no better. */
const MOST_AVERAGED = 150;
/** Correlation from which on a segment shows the mark. */
const LIKENESS = 0.6;
/** The mark ends where its mean profile has sunk to this share of its peak. */
const FAINT = 0.15;
/** Rows left beside the mark for its background; px. */
const BESIDE_PX = 2;

/**
 * @param places those of one family.
 * @param knownHalfPx half-width of the mark with its fringes, where an earlier look has told it.
 */
export function findRoughOffsets(
  grey: GreyImage,
  places: readonly SegmentPlace[],
  knownHalfPx?: number,
): RoughFamily {
  const widestPx =
    knownHalfPx === undefined ? WIDEST_PX : Math.min(WIDEST_PX, 2 * knownHalfPx + ROOM_PX);
  const room = new StripRoom();
  const profiles = places.flatMap((place) => {
    const half = Math.min(widestPx, place.reachPx);
    const strip = half < 3 ? undefined : gatherStrip(grey, place, half, 0, room);
    return strip === undefined ? [] : [{ place, values: binAcross(strip, half) }];
  });
  let offsets: RoughOffset[] = profiles.map(({ place }) => ({
    place,
    offsetPx: 0,
    likeness: 1,
    amplitude: 1,
  }));
  let halfMarkPx = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const mean = averageProfile(profiles, offsets);
    const template = mean === undefined ? undefined : cutTemplate(mean);
    if (template === undefined) return { offsets: [], halfMarkPx: 0, seen: profiles.length };
    halfMarkPx = (template.length * BIN_PX) / 2 - BESIDE_PX;
    const pattern = detrend(template, 0, new Float64Array(template.length));
    const piece = new Float64Array(template.length);
    offsets = profiles.map(({ place, values }) => ({ place, ...locate(values, pattern, piece) }));
  }
  return {
    offsets: offsets.filter((o) => o.likeness > LIKENESS),
    halfMarkPx,
    seen: profiles.length,
  };
}

interface Profile {
  readonly place: SegmentPlace;
  /** Mean grey per bin, the middle one at the predicted line. */
  readonly values: Float64Array;
}

/** Each pixel goes to the bins within a px of it: bins narrower than a pixel would stay empty. */
function binAcross(strip: Strip, halfPx: number): Float64Array {
  const middle = Math.floor(halfPx / BIN_PX);
  const { across, value } = strip;
  const bins = 2 * middle + 1;
  // Two bins more at either end, so that none has to be looked for.
  const sums = new Float64Array(bins + 4);
  const weights = new Float64Array(bins + 4);
  for (let i = 0; i < value.length; i++) {
    const at = across[i] / BIN_PX + middle + 2;
    const grey = value[i];
    const bin = at | 0;
    const near = (at - bin) * BIN_PX;
    const w0 = BIN_PX - near;
    const w1 = 1 - near;
    const w2 = BIN_PX + near;
    weights[bin - 1] += w0;
    weights[bin] += w1;
    weights[bin + 1] += w2;
    weights[bin + 2] += near;
    sums[bin - 1] += w0 * grey;
    sums[bin] += w1 * grey;
    sums[bin + 1] += w2 * grey;
    sums[bin + 2] += near * grey;
  }
  const means = new Float64Array(bins);
  for (let bin = 0; bin < bins; bin++) {
    means[bin] = weights[bin + 2] > 0 ? sums[bin + 2] / weights[bin + 2] : Number.NaN;
  }
  return means;
}

/** Median over the segments at each distance, each moved by its offset and divided by its level. */
function averageProfile(
  profiles: readonly Profile[],
  offsets: readonly RoughOffset[],
): Float64Array | undefined {
  const halves = profiles.map((p) => (p.values.length - 1) / 2).sort((a, b) => a - b);
  const shortest = halves[Math.floor(CUT_SHORT * halves.length)] ?? 0;
  const stride = Math.max(1, Math.floor(profiles.length / MOST_AVERAGED));
  const used = profiles.flatMap(({ values }, i) => {
    if (i % stride !== 0 || offsets[i].likeness < LIKENESS) return [];
    const level = median(values);
    return level > 0 ? [{ values, level, shift: offsets[i].offsetPx / BIN_PX }] : [];
  });
  if (used.length < 4) return undefined;
  const mean = new Float64Array(2 * shortest + 1);
  const column = new Float64Array(used.length);
  for (let bin = 0; bin < mean.length; bin++) {
    let count = 0;
    for (let k = 0; k < used.length; k++) {
      const { values, level, shift } = used[k];
      const value = interpolate(values, bin - shortest + (values.length - 1) / 2 + shift);
      if (!Number.isNaN(value)) column[count++] = value / level - 1;
    }
    mean[bin] = medianInPlace(column.subarray(0, count));
  }
  return mean;
}

function interpolate(values: Float64Array, at: number): number {
  const low = Math.floor(at);
  if (low < 0 || low + 1 >= values.length) return Number.NaN;
  return values[low] + (at - low) * (values[low + 1] - values[low]);
}

/** The mark's own part of the mean profile, centred on its middle, with a little background. */
function cutTemplate(mean: Float64Array): Float64Array | undefined {
  const n = mean.length;
  const outer = Math.max(2, n >> 3);
  const left = median(mean.subarray(0, outer));
  const right = median(mean.subarray(n - outer));
  const off = mean.map((v, i) => v - left - ((right - left) * i) / (n - 1));
  const size = off.map(Math.abs);
  const inner = size.map((v, i) => (i >= outer && i < n - outer && !Number.isNaN(v) ? v : 0));
  const peak = inner.reduce((best, v, i) => (v > inner[best] ? i : best), 0);
  if (!(size[peak] > 0)) return undefined;
  // A second lobe may lie behind a zero crossing: gaps of a few px are bridged.
  const gap = Math.round(3 / BIN_PX);
  let first = peak;
  let last = peak;
  for (let i = peak, faint = 0; i >= 0 && faint <= gap; i--) {
    faint = inner[i] > FAINT * size[peak] ? 0 : faint + 1;
    if (faint === 0) first = i;
  }
  for (let i = peak, faint = 0; i < n && faint <= gap; i++) {
    faint = inner[i] > FAINT * size[peak] ? 0 : faint + 1;
    if (faint === 0) last = i;
  }
  const beside = BESIDE_PX / BIN_PX;
  const half = Math.ceil((last - first) / 2) + beside;
  const middle = Math.round(middleOf(size, first, last));
  if (middle - half < 0 || middle + half >= n) return undefined;
  return off.slice(middle - half, middle + half + 1);
}

function middleOf(size: Float64Array, first: number, last: number): number {
  let sum = 0;
  let moment = 0;
  for (let i = first; i <= last; i++) {
    sum += size[i];
    moment += size[i] * i;
  }
  return moment / sum;
}

/**
 * Best place of the template: largest correlation, level and slope taken away on both sides.
 *
 * @param pattern the template without level and slope.
 * @param piece room for as many values.
 */
function locate(
  values: Float64Array,
  pattern: Float64Array,
  piece: Float64Array,
): { offsetPx: number; likeness: number; amplitude: number } {
  const n = pattern.length;
  const half = (n - 1) / 2;
  const middle = (values.length - 1) / 2;
  const reach = Math.floor(Math.min(SEARCH_PX / BIN_PX, middle - half));
  // Too near to a neighbour's mark to be looked for.
  if (reach < 1) return { offsetPx: 0, likeness: 0, amplitude: 0 };
  const norm = dot(pattern, pattern);
  const scores = new Float64Array(2 * reach + 1).fill(-1);
  const products = new Float64Array(2 * reach + 1);
  for (let shift = -reach; shift <= reach; shift++) {
    const from = middle - half + shift;
    detrend(values, from, piece);
    const product = dot(piece, pattern);
    const energy = dot(piece, piece);
    products[shift + reach] = product / norm;
    scores[shift + reach] = energy > 0 ? product / Math.sqrt(energy * norm) : -1;
  }
  let best = 0;
  for (let i = 1; i < scores.length; i++) if (scores[i] > scores[best]) best = i;
  // A peak at the window's end is none.
  if (best === 0 || best === scores.length - 1 || Number.isNaN(scores[best])) {
    return { offsetPx: 0, likeness: 0, amplitude: 0 };
  }
  const [a, b, c] = [scores[best - 1], scores[best], scores[best + 1]];
  const fraction = (a - c) / (2 * (a - 2 * b + c));
  const offsetPx = (best - reach + (Number.isFinite(fraction) ? fraction : 0)) * BIN_PX;
  return { offsetPx, likeness: b, amplitude: products[best] / median(values) };
}

/** As many values as `into` has room for, their level and slope taken away. */
function detrend(values: Float64Array, from: number, into: Float64Array): Float64Array {
  const n = into.length;
  const centre = (n - 1) / 2;
  let mean = 0;
  let moment = 0;
  for (let i = 0; i < n; i++) {
    const value = values[from + i];
    mean += value / n;
    moment += value * (i - centre);
  }
  const slope = moment / ((n * (n * n - 1)) / 12);
  for (let i = 0; i < n; i++) into[i] = values[from + i] - mean - slope * (i - centre);
  return into;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}
