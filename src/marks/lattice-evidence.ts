/**
 * What a picture says about one placement of the grid: marks where they are predicted, marks midway
 * between (there should be none), and marks one gap outside (there should be none).
 */

import type { LineSighting } from './fit-image-map.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import type { MarkUnit, ProgramGrid } from './program-grid.js';
import { type RidgeField, SATURATION } from './ridge-field.js';

/** Where to look: the field, the sign of the marks, and a map into the field's pixels. */
export interface Sight {
  readonly field: RidgeField;
  /** +1 dark marks, -1 bright ones. */
  readonly sign: 1 | -1;
}

/** Units one gap outside one edge of the grid. */
export interface Side {
  readonly name: 'left' | 'right' | 'lower' | 'upper';
  /** Share of marks along the line that would come next. */
  readonly parallel: number;
  /** Share of marks where the crossing lines would go on. */
  readonly stub: number;
}

export interface Evidence {
  /** Share of predicted units, inside the picture, that show a mark. */
  readonly share: number;
  /** The same per family [lines along Y, lines along X]. */
  readonly familyShare: readonly [number, number];
  /** Share midway between the lines, per family: how easily texture passes for a mark. */
  readonly betweenShare: readonly [number, number];
  /** Share per line; NaN where it is outside the picture. */
  readonly lineShare: readonly [Float64Array, Float64Array];
  /**
   * Share, per gap between neighbouring lines, of the crossing lines' marks within it; NaN outside the
   * picture. An outer line that no crossing line leads to is a frame, not a line of the grid.
   */
  readonly gapShare: readonly [Float64Array, Float64Array];
  readonly sides: readonly Side[];
  /** Log of the odds for this placement against no marks at all. */
  readonly logOdds: number;
  /** The part of the log odds that comes from the predicted marks alone. */
  readonly ownOdds: number;
  /** Strength from which a unit counts as marked, per family. */
  readonly limits: readonly [number, number];
  /** Share of predicted units inside the picture. */
  readonly inPicture: number;
  readonly sightings: readonly LineSighting[];
}

/** How often a predicted unit shows a mark, on the grid and off it. */
export interface Rates {
  readonly on: number;
  readonly off: number;
}

export const USUAL_RATES: Rates = { on: 0.75, off: 0.12 };

/** Mean normalised curvature that counts as a mark: three times what white noise reaches. */
const LEAST_STRENGTH = 0.9;

interface Probe {
  readonly inside: boolean;
  /** Mean normalised curvature along the best line in the window; 0 where there is none. */
  readonly strength: number;
  readonly sighting: LineSighting | undefined;
}

/**
 * @param windowShare half-width of the search across a line, as share of the gap between lines.
 * @param most look at no more than about this many units.
 * @param givenLimits strengths from which a unit counts, where placements are to be compared.
 */
export function weighPlacement(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  windowShare: number,
  rates: Rates,
  most = Number.POSITIVE_INFINITY,
  givenLimits?: readonly [number, number],
): Evidence {
  const stride = Math.max(1, Math.ceil(grid.units.length / most));
  const line = [grid.xs, grid.ys].map((p) => ({
    seen: new Float64Array(p.length),
    total: new Float64Array(p.length),
  }));
  const probes: { unit: MarkUnit; probe: Probe; index: number }[] = [];
  let looked = 0;
  grid.units.forEach((unit, index) => {
    if (unit.family !== 2 && scatter(index) % stride !== 0) return;
    looked++;
    const probe = probeUnit(sight, map, grid, unit, windowShare);
    if (probe.inside) probes.push({ unit, probe, index });
  });
  const halfway: { family: 0 | 1; probe: Probe }[] = [];
  for (const { unit, index } of probes) {
    const midway = index % 2 === 0 || stride > 1 ? halfwayUnit(grid, unit) : undefined;
    if (midway === undefined || unit.family === 2) continue;
    const probe = probeUnit(sight, map, grid, midway, windowShare);
    if (probe.inside) halfway.push({ family: unit.family, probe });
  }
  const [limitX, limitY] = givenLimits ?? strengthLimits(probes, halfway);
  const limits = [limitX, limitY, Math.min(limitX, limitY)];
  const sightings: LineSighting[] = [];
  const between = [newCount(), newCount()];
  for (const { family, probe } of halfway) count(between[family], probe, limits[family]);
  const gaps = [grid.xs, grid.ys].map((p) => Array.from({ length: p.length - 1 }, newCount));
  const on = newCount();
  for (const { unit, probe } of probes) {
    count(on, probe, limits[unit.family]);
    if (unit.family === 2) continue;
    const gap = gapOf(grid, unit);
    if (gap >= 0) count(gaps[1 - unit.family][gap], probe, limits[unit.family]);
    line[unit.family].total[unit.line]++;
    if (probe.strength < limits[unit.family]) continue;
    line[unit.family].seen[unit.line]++;
    if (probe.sighting !== undefined) sightings.push(probe.sighting);
  }
  const sides = SIDES.map((side) => weighSide(sight, map, grid, side, windowShare, stride, limits));
  const familyShare = line.map((l) => ratio(sum(l.seen), sum(l.total))) as [number, number];
  const betweenShare = between.map((b) => ratio(b.seen, b.total)) as [number, number];
  const ownOdds = oddsOf(on, rates);
  let logOdds = ownOdds;
  for (const b of between) logOdds -= Math.max(0, 2 * oddsOf(b, rates));
  for (const side of sides) {
    logOdds -= Math.max(0, Math.min(oddsOf(side.parallel, rates), oddsOf(side.stub, rates)));
  }
  return {
    share: ratio(on.seen, on.total),
    familyShare,
    betweenShare,
    lineShare: line.map((l) => l.seen.map((s, k) => s / l.total[k])) as [
      Float64Array,
      Float64Array,
    ],
    gapShare: gaps.map((row) => Float64Array.from(row, (c) => c.seen / c.total)) as [
      Float64Array,
      Float64Array,
    ],
    sides: sides.map(shareOf),
    logOdds,
    ownOdds,
    limits: [limits[0], limits[1]],
    inPicture: ratio(on.total, looked),
    sightings,
  };
}

/** Share of marks along an extra line of one family at a position outside the grid; mm. */
export function shareAt(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  positionMm: number,
  limit: number,
): number {
  const seen = newCount();
  for (const unit of grid.units) {
    if (unit.family !== family || unit.line !== 0) continue;
    const moved = moveUnit(unit, family, positionMm - (family === 0 ? grid.xs[0] : grid.ys[0]));
    const probe = probeUnit(sight, map, grid, moved, 0.15);
    if (probe.inside) count(seen, probe, limit);
  }
  return ratio(seen.seen, seen.total);
}

interface Count {
  seen: number;
  total: number;
}

function newCount(): Count {
  return { seen: 0, total: 0 };
}

function count(into: Count, probe: Probe, limit: number): void {
  into.total++;
  if (probe.strength >= limit) into.seen++;
}

/**
 * What counts as a mark, per family: above the noise, and halfway (in the logarithm) from what lies
 * between the lines (wood grain, digits) to the usual mark, but never above half of it: a finer grid
 * must not pass for grain.
 * Families differ where light comes from one side.
 */
function strengthLimits(
  probes: readonly { unit: MarkUnit; probe: Probe }[],
  halfway: readonly { family: 0 | 1; probe: Probe }[],
): [number, number] {
  const quantile = (values: readonly number[], share: number) =>
    Float64Array.from(values).sort()[Math.floor(share * values.length)] ?? 0;
  const [x, y] = [0, 1].map((family) => {
    const own = probes.filter((p) => p.unit.family === family).map((p) => p.probe.strength);
    const others = halfway.filter((p) => p.family === family).map((p) => p.probe.strength);
    const usual = quantile(own, 0.6);
    const texture = Math.max(0, quantile(others, 0.8));
    return Math.max(LEAST_STRENGTH, Math.min(0.5 * usual, Math.sqrt(usual * texture)));
  });
  return [x, y];
}

/** Picks units without the regularity that would leave whole lines out. */
function scatter(index: number): number {
  return Math.imul(index, 0x9e3779b1) >>> 8;
}

function ratio(part: number, whole: number): number {
  return whole === 0 ? 0 : part / whole;
}

function sum(values: Float64Array): number {
  return values.reduce((a, b) => a + b, 0);
}

function oddsOf(c: Count, rates: Rates): number {
  return (
    c.seen * Math.log(rates.on / rates.off) +
    (c.total - c.seen) * Math.log((1 - rates.on) / (1 - rates.off))
  );
}

const SIDES = [
  { name: 'left', family: 0, sense: -1 },
  { name: 'right', family: 0, sense: 1 },
  { name: 'lower', family: 1, sense: -1 },
  { name: 'upper', family: 1, sense: 1 },
] as const;

/**
 * Marks further outside: over several gaps, where some of them may be covered.
 *
 * @param gaps how many gaps outwards.
 */
export function lookBeyond(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  windowShare: number,
  limits: readonly [number, number],
  gaps: number,
): Side[] {
  return SIDES.map((side) =>
    shareOf(weighSide(sight, map, grid, side, windowShare, 1, limits, gaps)),
  );
}

interface SideCount {
  readonly name: Side['name'];
  readonly parallel: Count;
  readonly stub: Count;
}

function shareOf(side: SideCount): Side {
  return {
    name: side.name,
    parallel: ratio(side.parallel.seen, side.parallel.total),
    stub: ratio(side.stub.seen, side.stub.total),
  };
}

function weighSide(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  side: (typeof SIDES)[number],
  windowShare: number,
  stride: number,
  limits: readonly number[],
  gaps = 1,
): SideCount {
  const { family, sense, name } = side;
  const own = family === 0 ? grid.xs : grid.ys;
  const cross = family === 0 ? grid.ys : grid.xs;
  const edge = sense < 0 ? 0 : own.length - 1;
  const gap = Math.abs(own[edge] - own[edge - sense]);
  const parallel = newCount();
  const stub = newCount();
  const ends = cross.map(() => own[edge]);
  for (const unit of grid.units) {
    if (unit.family === family && unit.line === edge) {
      for (let d = 1; d <= gaps; d++) {
        const moved = moveUnit(unit, family, sense * d * gap);
        const probe = probeUnit(sight, map, grid, moved, Math.max(windowShare, 0.12));
        if (probe.inside) count(parallel, probe, limits[family]);
      }
    } else if (unit.family === 1 - family) {
      const a = family === 0 ? unit.x1 : unit.y1;
      const b = family === 0 ? unit.x2 : unit.y2;
      ends[unit.line] =
        sense < 0 ? Math.min(ends[unit.line], a, b) : Math.max(ends[unit.line], a, b);
    }
  }
  for (let j = 0; j < cross.length; j += Math.min(stride, 4)) {
    // A stroke that runs beyond the last line ends somewhere: what follows it is outside.
    const end = ends[j];
    const left = gap - Math.abs(end - own[edge]);
    const first = end + sense * (left > 0.3 * gap ? left : 0.6 * gap);
    for (let d = 1; d <= gaps; d++) {
      const from = d === 1 ? end : first + sense * (d - 2) * gap;
      const to = first + sense * (d - 1) * gap;
      const probe = probeUnit(sight, map, grid, rung(family, cross[j], from, to, j), windowShare);
      if (probe.inside) count(stub, probe, limits[1 - family]);
    }
  }
  return { name, parallel, stub };
}

/** A bit of a crossing line, between two positions across the lines of a family. */
function rung(family: 0 | 1, at: number, from: number, to: number, line: number): MarkUnit {
  return family === 0
    ? { x1: from, y1: at, x2: to, y2: at, family: 1, line }
    : { x1: at, y1: from, x2: at, y2: to, family: 0, line };
}

/** Index of the gap between crossing lines that holds a unit; -1 beyond the outer lines. */
function gapOf(grid: ProgramGrid, unit: MarkUnit): number {
  const cross = unit.family === 0 ? grid.ys : grid.xs;
  const at = unit.family === 0 ? (unit.y1 + unit.y2) / 2 : (unit.x1 + unit.x2) / 2;
  if (at < cross[0] || at > cross[cross.length - 1]) return -1;
  let gap = 0;
  while (gap + 2 < cross.length && at > cross[gap + 1]) gap++;
  return gap;
}

function moveUnit(unit: MarkUnit, family: 0 | 1, byMm: number): MarkUnit {
  return family === 0
    ? { ...unit, x1: unit.x1 + byMm, x2: unit.x2 + byMm }
    : { ...unit, y1: unit.y1 + byMm, y2: unit.y2 + byMm };
}

function halfwayUnit(grid: ProgramGrid, unit: MarkUnit): MarkUnit | undefined {
  if (unit.family === 2) return undefined;
  const own = unit.family === 0 ? grid.xs : grid.ys;
  if (unit.line + 1 >= own.length) return undefined;
  return moveUnit(unit, unit.family, (own[unit.line + 1] - own[unit.line]) / 2);
}

/** Looks across a unit for the strongest mark of the right sign near its predicted place. */
function probeUnit(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  unit: MarkUnit,
  windowShare: number,
): Probe {
  const { field, sign } = sight;
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
  if (!isInside(u1, v1) || !isInside(u2, v2) || !(lengthPx > 1.5)) {
    return { inside: false, strength: 0, sighting: undefined };
  }
  const cos = (u2 - u1) / lengthPx;
  const sin = (v2 - v1) / lengthPx;
  const gapPx = gapAcross(map, grid, unit, xMm, yMm, -sin, cos);
  const window = Math.max(1.5, windowShare * gapPx);
  const cxx = sign * sin * sin;
  const cxy = sign * -2 * sin * cos;
  const cyy = sign * cos * cos;
  const samples = Math.max(5, Math.min(16, Math.round(lengthPx / 1.5)));
  // The middle departs from the chord where the lens bends the line.
  const bendU = um - (u1 + u2) / 2;
  const bendV = vm - (v1 + v2) / 2;
  const along = new Float64Array(2 * samples);
  for (let k = 0; k < samples; k++) {
    const t = (k + 0.5) / samples;
    const bend = 4 * t * (1 - t);
    along[2 * k] = u1 + t * (u2 - u1) + bend * bendU + 0.5;
    along[2 * k + 1] = v1 + t * (v2 - v1) + bend * bendV + 0.5;
  }
  const { width, height, curvature } = field;
  const meanAt = (offset: number) => {
    let total = 0;
    for (let k = 0; k < samples; k++) {
      const u = Math.floor(along[2 * k] - offset * sin);
      const v = Math.floor(along[2 * k + 1] + offset * cos);
      if (u < 0 || v < 0 || u >= width || v >= height) continue;
      const i = 3 * (v * width + u);
      const c = cxx * curvature[i] + cxy * curvature[i + 1] + cyy * curvature[i + 2];
      total += c > SATURATION ? SATURATION : Math.max(c, -SATURATION);
    }
    return total / samples;
  };
  const reach = Math.ceil(window);
  let best = -1;
  let at = 0;
  const values = new Float64Array(2 * reach + 1).fill(Number.NaN);
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
  const sighting: LineSighting = {
    xMm,
    yMm,
    uPx: um - offset * sin,
    vPx: vm + offset * cos,
    normalU: -sin,
    normalV: cos,
  };
  return { inside: true, strength: values[k], sighting };
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
