/**
 * What a picture says about one placement of the grid: marks where they are predicted, marks midway
 * between (there should be none), and marks one gap outside (there should be none).
 */

import type { LineSighting } from './fit-image-map.js';
import type { ImageMap } from './image-map.js';
import { SIDES, type Side, shareOf, weighSide } from './look-beyond.js';
import { LEAST_STRENGTH, type Probe, probeBold, probeUnit, type Sight } from './probe-unit.js';
import { type MarkUnit, moveUnit, type ProgramGrid } from './program-grid.js';
import { SATURATION } from './ridge-field.js';
import { count, newTally, oddsOf, type Rates, shareSeen } from './tally.js';

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
  const stride = strideOf(grid, most);
  const { line, between, gaps, on, looked, limits, sightings } = lookAtMarks(
    sight,
    map,
    grid,
    windowShare,
    stride,
    givenLimits,
  );
  const sides = SIDES.map((side) => weighSide(sight, map, grid, side, windowShare, stride, limits));
  const familyShare = line.map((l) => shareSeen({ seen: sum(l.seen), total: sum(l.total) })) as [
    number,
    number,
  ];
  const betweenShare = between.map(shareSeen) as [number, number];
  const ownOdds = oddsOf(on, rates);
  let logOdds = ownOdds;
  for (const b of between) logOdds -= Math.max(0, 2 * oddsOf(b, rates));
  for (const side of sides) {
    logOdds -= Math.max(0, Math.min(oddsOf(side.parallel, rates), oddsOf(side.stub, rates)));
  }
  return {
    share: shareSeen(on),
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
    inPicture: looked === 0 ? 0 : on.total / looked,
    sightings,
  };
}

/** What `weighPlacement` sights, without a look beside the grid. */
export function sightMarks(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  windowShare: number,
  most: number,
): readonly LineSighting[] {
  return lookAtMarks(sight, map, grid, windowShare, strideOf(grid, most)).sightings;
}

/** Marks stand out so clearly that another placement cannot explain the picture better. */
export function isPlain({ share, betweenShare }: Evidence): boolean {
  return share > 0.5 && share - Math.max(...betweenShare) > CLEAR_CONTRAST;
}

/** Marks on the lines this much commoner than between them are plain. */
const CLEAR_CONTRAST = 0.4;

function strideOf(grid: ProgramGrid, most: number): number {
  return Math.max(1, Math.ceil(grid.units.length / most));
}

function lookAtMarks(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  windowShare: number,
  stride: number,
  givenLimits?: readonly [number, number],
) {
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
    const midway = index % 2 === 0 || stride > 1 ? betweenUnit(grid, unit, index) : undefined;
    if (midway === undefined || unit.family === 2) continue;
    const probe = probeUnit(sight, map, grid, midway, windowShare);
    if (probe.inside) halfway.push({ family: unit.family, probe });
  }
  const [limitX, limitY] = givenLimits ?? strengthLimits(probes, halfway);
  const limits = [limitX, limitY, Math.min(limitX, limitY)];
  const sightings: LineSighting[] = [];
  const between = [newTally(), newTally()];
  for (const { family, probe } of halfway) count(between[family], probe, limits[family]);
  const gaps = [grid.xs, grid.ys].map((p) => Array.from({ length: p.length - 1 }, newTally));
  const on = newTally();
  for (const { unit, probe: first } of probes) {
    const isBorder =
      unit.family !== 2 &&
      (unit.line === 0 || unit.line === (unit.family === 0 ? grid.xs : grid.ys).length - 1);
    const probe =
      isBorder && windowShare <= BOLD_WINDOW && first.strength < limits[unit.family]
        ? probeBold(sight, map, grid, unit, windowShare, limits[unit.family])
        : first;
    count(on, probe, limits[unit.family]);
    if (unit.family === 2) continue;
    const gap = gapOf(grid, unit);
    if (gap >= 0) count(gaps[1 - unit.family][gap], probe, limits[unit.family]);
    line[unit.family].total[unit.line]++;
    if (probe.strength < limits[unit.family]) continue;
    line[unit.family].seen[unit.line]++;
    if (probe.sighting !== undefined) sightings.push(probe.sighting);
  }
  return { line, between, gaps, on, looked, limits, sightings };
}

/** How often marks show on and off the lines of a placement that was fitted. */
export function ownRates({ share, betweenShare }: Evidence): Rates {
  return {
    on: Math.min(0.97, Math.max(0.3, share)),
    off: Math.min(0.5, Math.max(0.03, ...betweenShare)),
  };
}

/**
 * What counts as a mark, per family: above the noise, and halfway (in the logarithm) from what lies
 * between the lines (wood grain, digits, finer lines) to the usual mark, but never near it: a grid of
 * more lines must not pass for grain.
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
    const capped = Math.min(SATURATION, usual);
    const limit = Math.min(0.5 * capped, Math.sqrt(capped * Math.min(SATURATION, texture)));
    // Finer lines between the grid's own are weaker, but may be strong.
    const finer = Math.min(MOST_FINER * usual, Math.sqrt(usual * texture));
    return Math.max(LEAST_STRENGTH, texture > limit ? Math.max(limit, finer) : limit);
  });
  return [x, y];
}

/** Lines between that are stronger than this, against the grid's own, are lines of the grid. */
const MOST_FINER = 0.7;

/** Bold borders are looked for where places are known to this share of the gap. */
const BOLD_WINDOW = 0.1;

/** Picks units without the regularity that would leave whole lines out. */
function scatter(index: number): number {
  return Math.imul(index, 0x9e3779b1) >>> 8;
}

function sum(values: Float64Array): number {
  return values.reduce((a, b) => a + b, 0);
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

/** A place where nothing is expected; where that is not midway, now on one side of the gap, now on the other. */
function betweenUnit(grid: ProgramGrid, unit: MarkUnit, index: number): MarkUnit | undefined {
  if (unit.family === 2) return undefined;
  const own = unit.family === 0 ? grid.xs : grid.ys;
  if (unit.line + 1 >= own.length) return undefined;
  const share = scatter(index) % 2 === 0 ? grid.freeShare : 1 - grid.freeShare;
  return moveUnit(unit, unit.family, share * (own[unit.line + 1] - own[unit.line]));
}
