/** Looks in the picture for one short bit of a predicted mark. */

import type { LineSighting } from './fit-image-map.js';
import { type ImageMap, imageFromCommanded, isBelieved } from './image-map.js';
import type { MarkUnit, ProgramGrid } from './program-grid.js';
import { type RidgeField, SATURATION } from './ridge-field.js';

/** Where to look: the field, the sign of the marks, and a map into the field's pixels. */
export interface Sight {
  readonly field: RidgeField;
  /** +1 dark marks, -1 bright ones. */
  readonly sign: 1 | -1;
}

export interface Probe {
  readonly inside: boolean;
  /**
   * Mean normalised curvature along the best line in the window; 0 where there is none. Where that is
   * saturated, the median, which is not: fine lines between bold ones are to be told from them.
   */
  readonly strength: number;
  readonly sighting: LineSighting | undefined;
}

/** Mean normalised curvature that counts as a mark: three times what white noise reaches. */
export const LEAST_STRENGTH = 0.9;

/** Means above this are cut off in most of their pixels. */
const SATURATED = 0.75 * SATURATION;

/** A border drawn bolder than the field is fine is looked for at these half-widths; px. */
const BOLD_PX = [2, 4];
/** Bold lines are no wider than this share of the gap. */
const BOLDEST = 0.4;

/**
 * As `probeUnit`, but also for a line several times as wide as the others: its flanks curve, its middle
 * does not.
 */
export function probeBold(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  unit: MarkUnit,
  windowShare: number,
  limit: number,
): Probe {
  let best = probeUnit(sight, map, grid, unit, windowShare);
  for (const half of BOLD_PX) {
    if (!best.inside || best.strength >= limit) break;
    const bold = probeUnit(sight, map, grid, unit, windowShare, half);
    // The place of a bold line is its middle, and that is not seen well enough to fit to.
    if (bold.strength > best.strength) best = { ...bold, sighting: undefined };
  }
  return best;
}

/**
 * Looks across a unit for the strongest mark of the right sign near its predicted place.
 *
 * @param boldPx half-width over which curvatures are averaged across the line; px.
 */
export function probeUnit(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  unit: MarkUnit,
  windowShare: number,
  boldPx = 0,
): Probe {
  const { field, sign } = sight;
  const course = layCourse(sight, map, unit);
  if (course === undefined) return { inside: false, strength: 0, sighting: undefined };
  const { cos, sin, middlePx, xMm, yMm } = course;
  const gapPx = gapAcross(map, grid, unit, xMm, yMm, -sin, cos);
  const window = Math.max(1.5, windowShare * gapPx);
  if (2 * boldPx + 1 > BOLDEST * gapPx) {
    return { inside: true, strength: 0, sighting: undefined };
  }
  const meanAt = (offset: number) =>
    boldPx === 0
      ? meanAlong(field, sign, course, offset)
      : boldMeanAlong(field, sign, course, offset, boldPx);
  const reach = Math.ceil(window);
  let best = -1;
  let at = 0;
  const values: number[] = [];
  for (let o = -reach; o <= reach; o++) values.push(Number.NaN);
  // A mark is at least three pixels wide after smoothing: wide windows are scanned by twos first.
  const stride = reach > 6 ? 2 : 1;
  for (let o = -reach; o <= reach; o += stride) {
    const value = meanAt(o);
    values[o + reach] = value;
    // Of two equally strong marks the nearer one is meant.
    const liking = value * (1 - (0.3 * Math.abs(o)) / (gapPx + 1));
    if (liking > best) {
      best = liking;
      at = o;
    }
  }
  for (const o of stride > 1 ? [at - 1, at + 1] : []) {
    if (Math.abs(o) > reach) continue;
    values[o + reach] = meanAt(o);
    if (values[o + reach] > values[at + reach]) at = o;
  }
  const known = (value: number | undefined, o: number) =>
    value === undefined || Number.isNaN(value) ? meanAt(o) : value;
  const k = at + reach;
  if (values[k] < LEAST_STRENGTH) return { inside: true, strength: 0, sighting: undefined };
  const before = known(values[k - 1], at - 1);
  const after = known(values[k + 1], at + 1);
  const curve = before + after - 2 * values[k];
  const offset =
    at + (curve < 0 ? Math.max(-0.5, Math.min(0.5, (before - after) / (2 * curve))) : 0);
  // A rising flank at the window's end is some other mark's.
  const flank = (k === 0 && before > values[k]) || (k === values.length - 1 && after > values[k]);
  if (flank) return { inside: true, strength: 0, sighting: undefined };
  const strength =
    values[k] < SATURATED ? values[k] : Math.max(values[k], medianAlong(field, sign, course, at));
  const sighting: LineSighting = {
    xMm,
    yMm,
    uPx: middlePx[0] - offset * sin,
    vPx: middlePx[1] + offset * cos,
    normalU: -sin,
    normalV: cos,
    family: unit.family,
  };
  return { inside: true, strength, sighting };
}

/**
 * Mean normalised curvature along a unit just where it is predicted, whatever it is: over many units
 * texture comes to nothing, and a mark fainter than it does not.
 *
 * @returns undefined outside the picture.
 */
export function curvatureOn(sight: Sight, map: ImageMap, unit: MarkUnit): number | undefined {
  const course = layCourse(sight, map, unit);
  return course && meanAlong(sight.field, sight.sign, course, 0);
}

/** Samples along a unit, and its direction. */
interface Course {
  /** [u, v] of each sample, half a pixel added for rounding down. */
  readonly along: readonly number[];
  /** Distance of the nearest sample from the field's border; px. */
  readonly inset: number;
  readonly cos: number;
  readonly sin: number;
  readonly middlePx: readonly [number, number];
  readonly xMm: number;
  readonly yMm: number;
}

/** Where a unit runs in the picture; undefined where it leaves it, or is too short there. */
function layCourse({ field }: Sight, map: ImageMap, unit: MarkUnit): Course | undefined {
  // Crossings belong to both families: the ends are left out.
  const trim = unit.family === 2 ? 0.05 : 0.12;
  const [u1, v1] = imageFromCommanded(
    map,
    unit.x1 + trim * (unit.x2 - unit.x1),
    unit.y1 + trim * (unit.y2 - unit.y1),
  );
  const [u2, v2] = imageFromCommanded(
    map,
    unit.x2 - trim * (unit.x2 - unit.x1),
    unit.y2 - trim * (unit.y2 - unit.y1),
  );
  const xMm = (unit.x1 + unit.x2) / 2;
  const yMm = (unit.y1 + unit.y2) / 2;
  const [um, vm] = imageFromCommanded(map, xMm, yMm);
  const margin = 3;
  const isInside = (u: number, v: number) =>
    u >= margin && v >= margin && u < field.width - margin && v < field.height - margin;
  const lengthPx = Math.hypot(u2 - u1, v2 - v1);
  const isOutside = !isInside(u1, v1) || !isInside(u2, v2) || !isBelieved(map, xMm, yMm);
  if (isOutside || !(lengthPx > 1.5)) return undefined;
  const samples = Math.max(5, Math.min(16, Math.round(lengthPx / 1.5)));
  // The middle departs from the chord where the lens bends the line.
  const bendU = um - (u1 + u2) / 2;
  const bendV = vm - (v1 + v2) / 2;
  // Not a typed array: thousands of small ones per second are slow to come by.
  const along: number[] = [];
  let inset = Number.POSITIVE_INFINITY;
  for (let k = 0; k < samples; k++) {
    const t = (k + 0.5) / samples;
    const bend = 4 * t * (1 - t);
    const u = u1 + t * (u2 - u1) + bend * bendU + 0.5;
    const v = v1 + t * (v2 - v1) + bend * bendV + 0.5;
    inset = Math.min(inset, u, v, field.width - u, field.height - v);
    along.push(u, v);
  }
  const cos = (u2 - u1) / lengthPx;
  const sin = (v2 - v1) / lengthPx;
  return { along, inset, cos, sin, middlePx: [um, vm], xMm, yMm };
}

/** Curvature across the mark at each sample, `offset` px beside the line; nothing outside the field. */
function curvaturesAlong(
  { width, height, curvature }: RidgeField,
  sign: 1 | -1,
  { along, cos, sin }: Course,
  offset: number,
): number[] {
  const cxx = sign * sin * sin;
  const cxy = sign * -2 * sin * cos;
  const cyy = sign * cos * cos;
  const all: number[] = [];
  for (let k = 0; k < along.length; k += 2) {
    const u = Math.floor(along[k] - offset * sin);
    const v = Math.floor(along[k + 1] + offset * cos);
    if (u < 0 || v < 0 || u >= width || v >= height) all.push(0);
    else {
      const i = 3 * (v * width + u);
      all.push(cxx * curvature[i] + cxy * curvature[i + 1] + cyy * curvature[i + 2]);
    }
  }
  return all;
}

/** Mean of the saturated curvatures; as `curvaturesAlong`, but this is where a search spends its time. */
function meanAlong(
  { width, height, curvature }: RidgeField,
  sign: 1 | -1,
  { along, cos, sin, inset }: Course,
  offset: number,
): number {
  const cxx = sign * sin * sin;
  const cxy = sign * -2 * sin * cos;
  const cyy = sign * cos * cos;
  const asideU = offset * sin;
  const asideV = offset * cos;
  const ends = along.length;
  // Of its own: what another module exports may be fetched anew at each use.
  const most = SATURATION;
  let total = 0;
  if (inset > Math.abs(offset)) {
    for (let k = 0; k < ends; k += 2) {
      const i = 3 * (((along[k + 1] + asideV) | 0) * width + ((along[k] - asideU) | 0));
      const c = cxx * curvature[i] + cxy * curvature[i + 1] + cyy * curvature[i + 2];
      total += Math.min(most, Math.max(-most, c));
    }
    return total / (ends / 2);
  }
  for (let k = 0; k < ends; k += 2) {
    const u = along[k] - asideU;
    const v = along[k + 1] + asideV;
    if (!(u >= 0 && v >= 0 && u < width && v < height)) continue;
    const i = 3 * ((v | 0) * width + (u | 0));
    const c = cxx * curvature[i] + cxy * curvature[i + 1] + cyy * curvature[i + 2];
    total += Math.min(most, Math.max(-most, c));
  }
  return total / (ends / 2);
}

function boldMeanAlong(
  field: RidgeField,
  sign: 1 | -1,
  course: Course,
  offset: number,
  boldPx: number,
): number {
  const rows: number[][] = [];
  for (let b = offset - boldPx; b <= offset + boldPx; b++) {
    rows.push(curvaturesAlong(field, sign, course, b));
  }
  let total = 0;
  for (let k = 0; k < rows[0].length; k++) {
    let sum = 0;
    for (const row of rows) sum += row[k];
    const c = sum / rows.length;
    total += c > SATURATION ? SATURATION : Math.max(c, -SATURATION);
  }
  return total / rows[0].length;
}

function medianAlong(field: RidgeField, sign: 1 | -1, course: Course, offset: number): number {
  const all = curvaturesAlong(field, sign, course, offset);
  // Sixteen at most: sorting them by hand costs less than a typed array does.
  for (let i = 1; i < all.length; i++) {
    const value = all[i];
    let k = i;
    for (; k > 0 && all[k - 1] > value; k--) all[k] = all[k - 1];
    all[k] = value;
  }
  return all[all.length >> 1];
}

function gapAcross(
  map: ImageMap,
  grid: ProgramGrid,
  unit: MarkUnit,
  xMm: number,
  yMm: number,
  normalU: number,
  normalV: number,
): number {
  const family = unit.family === 2 ? 0 : unit.family;
  const pitch = unit.family === 2 ? Math.min(...grid.pitchMm) : grid.pitchMm[family];
  const h = 0.05 * pitch;
  const [ua, va] = imageFromCommanded(
    map,
    xMm - (family === 0 ? h : 0),
    yMm - (family === 1 ? h : 0),
  );
  const [ub, vb] = imageFromCommanded(
    map,
    xMm + (family === 0 ? h : 0),
    yMm + (family === 1 ? h : 0),
  );
  if (unit.family === 2) return Math.hypot(ub - ua, vb - va) * 10;
  return Math.abs((ub - ua) * normalU + (vb - va) * normalV) * 10;
}
