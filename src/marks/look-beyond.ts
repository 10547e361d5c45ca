/** Marks outside the grid: a lattice that goes on is another one, or this one shifted. */

import type { ImageMap } from './image-map.js';
import { probeUnit, type Sight } from './probe-unit.js';
import { bitOfLine, moveUnit, type ProgramGrid } from './program-grid.js';
import { aboveTexture, count, newTally, shareSeen, type Tally } from './tally.js';

/** Units one gap outside one edge of the grid. */
export interface Side {
  readonly name: 'left' | 'right' | 'lower' | 'upper';
  /** Share of marks along the line that would come next. */
  readonly parallel: number;
  /** Share of marks where the crossing lines would go on, above what texture yields there. */
  readonly stub: number;
}

export const SIDES = [
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

export interface SideTally {
  readonly name: Side['name'];
  readonly parallel: Tally;
  readonly stub: Tally;
}

export function shareOf(side: SideTally): Side {
  return {
    name: side.name,
    parallel: shareSeen(side.parallel),
    stub: shareSeen(side.stub),
  };
}

export function weighSide(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  side: (typeof SIDES)[number],
  windowShare: number,
  stride: number,
  limits: readonly number[],
  gaps = 1,
): SideTally {
  const { family, sense, name } = side;
  const own = family === 0 ? grid.xs : grid.ys;
  const cross = family === 0 ? grid.ys : grid.xs;
  const edge = sense < 0 ? 0 : own.length - 1;
  const gap = Math.abs(own[edge] - own[edge - sense]);
  const parallel = newTally();
  const stub = newTally();
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
  const texture = newTally();
  const other = family === 0 ? 1 : 0;
  for (let j = 0; j < cross.length; j += Math.min(stride, 4)) {
    // A stroke that runs beyond the last line ends somewhere: what follows it is outside.
    const end = ends[j];
    const left = gap - Math.abs(end - own[edge]);
    const first = end + sense * (left > 0.3 * gap ? left : 0.6 * gap);
    const beside = j + 1 < cross.length ? (cross[j] + cross[j + 1]) / 2 : undefined;
    for (let d = 1; d <= gaps; d++) {
      const from = d === 1 ? end : first + sense * (d - 2) * gap;
      const to = first + sense * (d - 1) * gap;
      const probe = probeUnit(sight, map, grid, bitOfLine(other, cross[j], from, to), windowShare);
      if (probe.inside) count(stub, probe, limits[other]);
      if (beside === undefined) continue;
      const between = probeUnit(sight, map, grid, bitOfLine(other, beside, from, to), windowShare);
      if (between.inside) count(texture, between, limits[other]);
    }
  }
  return { name, parallel, stub: aboveTexture(stub, texture) };
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
  const seen = newTally();
  for (const unit of grid.units) {
    if (unit.family !== family || unit.line !== 0) continue;
    const moved = moveUnit(unit, family, positionMm - (family === 0 ? grid.xs[0] : grid.ys[0]));
    const probe = probeUnit(sight, map, grid, moved, 0.15);
    if (probe.inside) count(seen, probe, limit);
  }
  return shareSeen(seen);
}
