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
  readonly sides: readonly Side[];
  /** Log of the odds for this placement against no marks at all. */
  readonly logOdds: number;
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
  readonly seen: boolean;
  readonly sighting: LineSighting | undefined;
}

/**
 * @param windowShare half-width of the search across a line, as share of the gap between lines.
 * @param most look at no more than about this many units.
 */
export function weighPlacement(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  windowShare: number,
  rates: Rates,
  most = Number.POSITIVE_INFINITY,
): Evidence {
  const stride = Math.max(1, Math.ceil(grid.units.length / most));
  const line = [grid.xs, grid.ys].map((p) => ({
    seen: new Float64Array(p.length),
    total: new Float64Array(p.length),
  }));
  const sightings: LineSighting[] = [];
  const between = [newCount(), newCount()];
  const on = newCount();
  let looked = 0;
  for (let i = 0; i < grid.units.length; i++) {
    const unit = grid.units[i];
    if (unit.family !== 2 && stride > 1 && (i * 7) % stride >= 1) continue;
    looked++;
    const probe = probeUnit(sight, map, grid, unit, windowShare);
    if (!probe.inside) continue;
    count(on, probe);
    if (unit.family === 2) continue;
    line[unit.family].total[unit.line]++;
    if (probe.seen) line[unit.family].seen[unit.line]++;
    if (probe.sighting !== undefined) sightings.push(probe.sighting);
    const midway = i % 2 === 0 ? halfwayUnit(grid, unit) : undefined;
    if (midway !== undefined) {
      const other = probeUnit(sight, map, grid, midway, windowShare);
      if (other.inside) count(between[unit.family], other);
    }
  }
  const sides = SIDES.map((side) => weighSide(sight, map, grid, side, windowShare, stride));
  const familyShare = line.map((l) => ratio(sum(l.seen), sum(l.total))) as [number, number];
  const betweenShare = between.map((b) => ratio(b.seen, b.total)) as [number, number];
  let logOdds = oddsOf(on, rates);
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
    sides: sides.map((side) => ({
      name: side.name,
      parallel: ratio(side.parallel.seen, side.parallel.total),
      stub: ratio(side.stub.seen, side.stub.total),
    })),
    logOdds,
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
): number {
  const seen = newCount();
  for (const unit of grid.units) {
    if (unit.family !== family || unit.line !== 0) continue;
    const moved = moveUnit(unit, family, positionMm - (family === 0 ? grid.xs[0] : grid.ys[0]));
    const probe = probeUnit(sight, map, grid, moved, 0.15);
    if (probe.inside) count(seen, probe);
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

function count(into: Count, probe: Probe): void {
  into.total++;
  if (probe.seen) into.seen++;
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

function weighSide(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  side: (typeof SIDES)[number],
  windowShare: number,
  stride: number,
): { name: Side['name']; parallel: Count; stub: Count } {
  const { family, sense, name } = side;
  const own = family === 0 ? grid.xs : grid.ys;
  const cross = family === 0 ? grid.ys : grid.xs;
  const edge = sense < 0 ? 0 : own.length - 1;
  const gap = Math.abs(own[edge] - own[edge - sense]);
  const parallel = newCount();
  const stub = newCount();
  const ends = cross.map(() => own[edge]);
  grid.units.forEach((unit) => {
    if (unit.family === family && unit.line === edge) {
      const probe = probeUnit(
        sight,
        map,
        grid,
        moveUnit(unit, family, sense * gap),
        Math.max(windowShare, 0.12),
      );
      if (probe.inside) count(parallel, probe);
    } else if (unit.family === 1 - family) {
      const a = family === 0 ? unit.x1 : unit.y1;
      const b = family === 0 ? unit.x2 : unit.y2;
      ends[unit.line] =
        sense < 0 ? Math.min(ends[unit.line], a, b) : Math.max(ends[unit.line], a, b);
    }
  });
  for (let j = 0; j < cross.length; j += Math.min(stride, 4)) {
    // A stroke that runs beyond the last line ends somewhere: what follows it is outside.
    const from = ends[j];
    const left = gap - Math.abs(from - own[edge]);
    const to = from + sense * (left > 0.3 * gap ? left : 0.6 * gap);
    const ends2 = family === 0 ? [from, cross[j], to, cross[j]] : [cross[j], from, cross[j], to];
    const unit: MarkUnit = {
      x1: ends2[0],
      y1: ends2[1],
      x2: ends2[2],
      y2: ends2[3],
      family: (1 - family) as 0 | 1,
      line: j,
    };
    const probe = probeUnit(sight, map, grid, unit, windowShare);
    if (probe.inside) count(stub, probe);
  }
  return { name, parallel, stub };
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
    return { inside: false, seen: false, sighting: undefined };
  }
  const cos = (u2 - u1) / lengthPx;
  const sin = (v2 - v1) / lengthPx;
  const gapPx = gapAcross(map, grid, unit, xMm, yMm, -sin, cos);
  const window = Math.max(1.5, windowShare * gapPx);
  const cxx = sign * sin * sin;
  const cxy = sign * -2 * sin * cos;
  const cyy = sign * cos * cos;
  const samples = Math.max(5, Math.min(24, Math.round(lengthPx / 1.5)));
  // The middle departs from the chord where the lens bends the line.
  const bendU = um - (u1 + u2) / 2;
  const bendV = vm - (v1 + v2) / 2;
  const meanAt = (offset: number) => {
    let total = 0;
    for (let k = 0; k < samples; k++) {
      const t = (k + 0.5) / samples;
      const bend = 4 * t * (1 - t);
      const u = Math.round(u1 + t * (u2 - u1) + bend * bendU - offset * sin);
      const v = Math.round(v1 + t * (v2 - v1) + bend * bendV + offset * cos);
      if (u < 0 || v < 0 || u >= field.width || v >= field.height) continue;
      const i = v * field.width + u;
      const c = cxx * field.xx[i] + cxy * field.xy[i] + cyy * field.yy[i];
      total += Math.max(-SATURATION, Math.min(SATURATION, c));
    }
    return total / samples;
  };
  const reach = Math.ceil(window);
  let best = -1;
  let at = 0;
  const values: number[] = [];
  for (let o = -reach; o <= reach; o++) {
    const value = meanAt(o);
    values.push(value);
    // Of two equally strong marks the nearer one is meant.
    const liking = value * (1 - (0.3 * Math.abs(o)) / (gapPx + 1));
    if (liking > best) {
      best = liking;
      at = o;
    }
  }
  const k = at + reach;
  if (values[k] < LEAST_STRENGTH) return { inside: true, seen: false, sighting: undefined };
  const before = values[k - 1] ?? meanAt(at - 1);
  const after = values[k + 1] ?? meanAt(at + 1);
  const curve = before + after - 2 * values[k];
  const offset =
    at + (curve < 0 ? Math.max(-0.5, Math.min(0.5, (before - after) / (2 * curve))) : 0);
  // A rising flank at the window's end is some other mark's.
  const flank = (k === 0 && before > values[k]) || (k === values.length - 1 && after > values[k]);
  if (flank) return { inside: true, seen: false, sighting: undefined };
  const sighting: LineSighting = {
    xMm,
    yMm,
    uPx: um - offset * sin,
    vPx: vm + offset * cos,
    normalU: -sin,
    normalV: cos,
  };
  return { inside: true, seen: true, sighting };
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
