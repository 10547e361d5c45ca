/**
 * What the marks look like at full size, averaged over each family, and the map moved onto their
 * middle: the search at reduced size may have held on to one flank of a wide mark.
 */

import { drawEvenly, select } from '../numerics/index.js';
import type { GreyImage } from '../quantity/index.js';
import { fitImageMap, type LineSighting } from './fit-image-map.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import type { MarkUnit, ProgramGrid } from './program-grid.js';

export interface MarkAppearance {
  readonly polarity: 'dark' | 'bright' | 'mixed';
  /** Full width at half depth; px. */
  readonly widthPx: number;
}

/** Widest half-window across a line; px. Marks are up to 30 px wide. */
const WIDEST_PX = 44;
/** Bins per px of a profile. */
const FINE = 2;
/** A side lobe below this share of the main one is shading, not a second half of the mark. */
const LOBE = 0.45;
/** Units looked at per family: more make neither the mean profile nor the map better by what matters here. */
const MOST_UNITS = 300;
/** Places along a unit whose profiles are averaged. */
const ALONG = 10;
/** A unit's profile that resembles the family's less than this (correlation) shows no mark. */
const LIKENESS = 0.6;
/** Each round sharpens the average that the next one is compared with. */
const ROUNDS = 3;
/** Background kept beside a mark of known width: this many px, and as many widths. */
const BESIDE_PX = 14;
const BESIDE_WIDTHS = 1.5;

interface UnitProfile {
  readonly xMm: number;
  readonly yMm: number;
  readonly u: number;
  readonly v: number;
  /** Unit normal, towards larger x (lines along Y) or y. */
  readonly nu: number;
  readonly nv: number;
  readonly values: Float64Array;
}

interface MeanProfile {
  readonly polarity: MarkAppearance['polarity'];
  readonly widthPx: number;
  /** Middle of the mark; px from the predicted place. */
  readonly middlePx: number;
  /** Baseline taken away. */
  readonly values: Float64Array;
}

export interface CentredMarks {
  readonly map: ImageMap;
  readonly appearance: MarkAppearance;
  /** The marks led the map away from where it began: what is there is not what was taken for them. */
  readonly isLost: boolean;
}

/** Centres placements of grids on the marks of one photo; the same one is asked for more than once. */
export class MarkCentring {
  private readonly known: (CentredMarks & { start: ImageMap; grid: ProgramGrid })[] = [];

  constructor(private readonly grey: GreyImage) {}

  of(start: ImageMap, grid: ProgramGrid): CentredMarks {
    const known = this.known.find((one) => one.grid === grid && isSameMap(one.start, start));
    if (known !== undefined) return known;
    const centred = { ...centreOnMarks(this.grey, start, grid), start, grid };
    this.known.push(centred);
    return centred;
  }
}

function isSameMap(a: ImageMap, b: ImageMap): boolean {
  return (
    a.k1 === b.k1 &&
    a.k2 === b.k2 &&
    a.radiusPx === b.radiusPx &&
    a.centrePx.every((value, i) => value === b.centrePx[i]) &&
    a.homography.every((value, i) => value === b.homography[i])
  );
}

function centreOnMarks(grey: GreyImage, start: ImageMap, grid: ProgramGrid): CentredMarks {
  let map = start;
  let means: MeanProfile[] = [];
  let widestPx = WIDEST_PX;
  for (let round = 0; round < ROUNDS; round++) {
    const sightings: LineSighting[] = [];
    means = [0, 1].map((family) => {
      const profiles = sampleUnits(grey, map, grid, family as 0 | 1, widestPx);
      const mean = describeMean(profiles);
      for (const profile of profiles) {
        const sighting = locateMark(profile, mean, family as 0 | 1);
        if (sighting !== undefined) sightings.push(sighting);
      }
      return mean;
    });
    map = fitImageMap(map, sightings) ?? map;
    // The first mean is blurred by what the map was off: no mark is wider than that.
    const widthPx = Math.max(...means.map((mean) => mean.widthPx + 2 * Math.abs(mean.middlePx)));
    widestPx = Math.min(widestPx, BESIDE_PX + BESIDE_WIDTHS * widthPx);
  }
  const [x, y] = means;
  const isLost = !isNear(start, map, grid);
  return {
    map: isLost ? start : map,
    isLost,
    appearance: {
      polarity: x.polarity === y.polarity ? x.polarity : 'mixed',
      widthPx: (x.widthPx + y.widthPx) / 2,
    },
  };
}

/** Whether two maps agree to half a gap at the corners of the grid. */
function isNear(a: ImageMap, b: ImageMap, grid: ProgramGrid): boolean {
  const [pitchX, pitchY] = grid.pitchMm;
  return [grid.xs[0], grid.xs[grid.xs.length - 1]].every((x) =>
    [grid.ys[0], grid.ys[grid.ys.length - 1]].every((y) => {
      const [u, v] = imageFromCommanded(a, x, y);
      const [ux, vx] = imageFromCommanded(a, x + pitchX / 10, y);
      const [uy, vy] = imageFromCommanded(a, x, y + pitchY / 10);
      const [ub, vb] = imageFromCommanded(b, x, y);
      const gapPx = 10 * Math.min(Math.hypot(ux - u, vx - v), Math.hypot(uy - u, vy - v));
      return Math.hypot(ub - u, vb - v) < gapPx / 2;
    }),
  );
}

function sampleUnits(
  grey: GreyImage,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  widestPx: number,
): UnitProfile[] {
  const units = grid.units.filter((unit) => unit.family === family);
  const chosen = drawEvenly(units, MOST_UNITS);
  const pitch = grid.pitchMm[family];
  let reach = widestPx;
  const placed = chosen.map((unit) => {
    const x = (unit.x1 + unit.x2) / 2;
    const y = (unit.y1 + unit.y2) / 2;
    const [u, v] = imageFromCommanded(map, x, y);
    const step = 0.01 * pitch;
    const beside =
      family === 0 ? imageFromCommanded(map, x + step, y) : imageFromCommanded(map, x, y + step);
    const ahead =
      family === 0 ? imageFromCommanded(map, x, y + step) : imageFromCommanded(map, x + step, y);
    const length = Math.hypot(ahead[0] - u, ahead[1] - v);
    const nu = -(ahead[1] - v) / length;
    const nv = (ahead[0] - u) / length;
    const across = (beside[0] - u) * nu + (beside[1] - v) * nv;
    reach = Math.min(reach, (0.45 * Math.abs(across) * pitch) / step);
    const sense = Math.sign(across);
    return { unit, xMm: x, yMm: y, u, v, nu: sense * nu, nv: sense * nv };
  });
  const half = Math.max(4, Math.floor(reach));
  const profiles: UnitProfile[] = [];
  for (const { unit, ...place } of placed) {
    const values = sampleAcross(grey, map, unit, place.nu, place.nv, half);
    if (values !== undefined) profiles.push({ ...place, values });
  }
  return profiles;
}

/** Mean profile of a unit, its ends left out because of the crossings. */
function sampleAcross(
  grey: GreyImage,
  map: ImageMap,
  unit: MarkUnit,
  nu: number,
  nv: number,
  half: number,
): Float64Array | undefined {
  const { width, height, data } = grey;
  const bins = 2 * half * FINE + 1;
  const values = new Float64Array(bins);
  for (let k = 0; k < ALONG; k++) {
    const t = 0.2 + (0.6 * (k + 0.5)) / ALONG;
    const [u0, v0] = imageFromCommanded(
      map,
      unit.x1 + t * (unit.x2 - unit.x1),
      unit.y1 + t * (unit.y2 - unit.y1),
    );
    const isInside = (offset: number) => {
      const u = u0 + offset * nu;
      const v = v0 + offset * nv;
      return u >= 0 && v >= 0 && u < width - 1 && v < height - 1;
    };
    if (!isInside(-half) || !isInside(half)) return undefined;
    for (let b = 0; b < bins; b++) {
      const o = b / FINE - half;
      const u = u0 + o * nu;
      const v = v0 + o * nv;
      const x = u | 0;
      const y = v | 0;
      const i = y * width + x;
      const fx = u - x;
      const fy = v - y;
      const upper = data[i] + (data[i + 1] - data[i]) * fx;
      const lower = data[i + width] + (data[i + width + 1] - data[i + width]) * fx;
      values[b] += (upper + (lower - upper) * fy) / ALONG;
    }
  }
  let mean = 0;
  for (const value of values) mean += value / bins;
  return values.map((value) => value - mean);
}

function describeMean(profiles: readonly UnitProfile[]): MeanProfile {
  if (profiles.length === 0) {
    return { polarity: 'dark', widthPx: 0, middlePx: 0, values: new Float64Array(0) };
  }
  const bins = profiles[0].values.length;
  const half = (bins - 1) / 2 / FINE;
  const mean = new Float64Array(bins);
  const column = new Float64Array(profiles.length);
  // The middle half of the values: covers and stains fall out.
  const from = profiles.length >> 2;
  const to = Math.max(from + 1, profiles.length - from);
  for (let b = 0; b < bins; b++) {
    for (let r = 0; r < profiles.length; r++) column[r] = profiles[r].values[b];
    select(column, from, column.length);
    select(column, to - 1, column.length, from);
    column.subarray(from, to).sort();
    let sum = 0;
    for (let r = from; r < to; r++) sum += column[r];
    mean[b] = sum / (to - from);
  }
  return readProfile(mean, half);
}

function readProfile(mean: Float64Array, half: number): MeanProfile {
  const bins = mean.length;
  const outer = Math.max(2, Math.floor(bins / 6));
  const level = (from: number, to: number) => {
    const part = mean.slice(from, to).sort();
    return part[part.length >> 1];
  };
  const low = level(0, outer);
  const high = level(bins - outer, bins);
  const values = mean.map((value, b) => value - low - ((high - low) * b) / (bins - 1));
  let dark = 0;
  let bright = 0;
  for (const value of values) {
    dark = Math.max(dark, -value);
    bright = Math.max(bright, value);
  }
  const polarity = bright < LOBE * dark ? 'dark' : dark < LOBE * bright ? 'bright' : 'mixed';
  const sign = polarity === 'dark' ? -1 : 1;
  const strength = values.map((value) =>
    polarity === 'mixed' ? Math.abs(value) : Math.max(0, sign * value),
  );
  const top = Math.max(...strength);
  if (top === 0) return { polarity, widthPx: 0, middlePx: 0, values };
  let from = 0;
  while (strength[from] < top / 2) from++;
  let to = bins - 1;
  while (strength[to] < top / 2) to--;
  const share = (a: number, b: number) =>
    (top / 2 - strength[a]) / (strength[b] - strength[a] || 1);
  const left = from > 0 ? from - 1 + share(from - 1, from) : from;
  const right = to < bins - 1 ? to + 1 - share(to + 1, to) : to;
  return {
    polarity,
    widthPx: (right - left) / FINE,
    middlePx: (left + right) / 2 / FINE - half,
    values,
  };
}

/** Shift of the family's mean profile that resembles this unit's best. */
function locateMark(
  profile: UnitProfile,
  mean: MeanProfile,
  family: 0 | 1,
): LineSighting | undefined {
  const bins = profile.values.length;
  const half = (bins - 1) / 2;
  const core = Math.min(half - 2, Math.ceil((mean.widthPx / 2 + 2) * FINE));
  const middle = half + Math.round(mean.middlePx * FINE);
  const reach = Math.min(half - core, Math.ceil((3 + mean.widthPx / 2) * FINE));
  const likeness = (shift: number) => {
    let n = 0;
    let a = 0;
    let b = 0;
    let aa = 0;
    let bb = 0;
    let ab = 0;
    for (let k = -core; k <= core; k++) {
      const x = mean.values[middle + k];
      const y = profile.values[middle + k + shift];
      if (x === undefined || y === undefined) continue;
      n++;
      a += x;
      b += y;
      aa += x * x;
      bb += y * y;
      ab += x * y;
    }
    const va = aa - (a * a) / n;
    const vb = bb - (b * b) / n;
    return n > core && va > 0 && vb > 0 ? (ab - (a * b) / n) / Math.sqrt(va * vb) : -1;
  };
  let best = LIKENESS;
  let at: number | undefined;
  for (let shift = -reach; shift <= reach; shift++) {
    const value = likeness(shift);
    if (value > best) {
      best = value;
      at = shift;
    }
  }
  if (at === undefined) return undefined;
  const before = likeness(at - 1);
  const after = likeness(at + 1);
  const curve = before + after - 2 * best;
  const fine = curve < 0 ? Math.max(-0.5, Math.min(0.5, (before - after) / (2 * curve))) : 0;
  const offset = (at + fine) / FINE + mean.middlePx;
  return {
    xMm: profile.xMm,
    yMm: profile.yMm,
    uPx: profile.u + offset * profile.nu,
    vPx: profile.v + offset * profile.nv,
    normalU: profile.nu,
    normalV: profile.nv,
    family,
  };
}
