/**
 * A family of lines fainter than the grain it runs along: no bit of a line tells it from a stripe of grain,
 * but grain does not keep to the spacings of the program, and the lines all together do.
 */

import type { ImageMap } from './image-map.js';
import { curvatureOn, type Sight } from './probe-unit.js';
import { bitOfLine, type MarkUnit, moveUnit, type ProgramGrid } from './program-grid.js';

/**
 * Lines stand out from what lies between them by this many standard errors. Grain that a placement was
 * fitted to reaches 3.
 */
const LEAST_STANDING_OUT = 4.5;
/** Shares of a gap at which there is texture alone; far enough apart to be looked at for their own. */
const BETWEEN = [1 / 4, 1 / 2, 3 / 4];
/** Where lines of a finer grid would lie, besides. */
const FINER = [1 / 3, 2 / 3];
/** Lines between that are half as strong are lines of a finer grid. */
const MOST_BETWEEN = 0.5;

/** The same for one gap's worth of each line, where lines that go on reach 4. */
const LEAST_GOING_ON = 2;

/** True where the lines of a family, taken together, lie on marks and what lies between them does not. */
export function standsOut(sight: Sight, map: ImageMap, grid: ProgramGrid, family: 0 | 1): boolean {
  const units = grid.units.filter((unit) => unit.family === family);
  const { by, own, means } = standingOut(sight, map, grid, family, units, (unit) => unit.line);
  return (
    by > LEAST_STANDING_OUT &&
    [...BETWEEN, ...FINER].every((share) => !(meanOf(means(share)) > MOST_BETWEEN * own))
  );
}

/** True where the lines of a family, taken together, show between two places along them; mm. */
export function goesOnBetween(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  from: number,
  to: number,
): boolean {
  const lines = family === 0 ? grid.xs : grid.ys;
  const units = Array.from(lines, (at) => bitOfLine(family, at, from, to));
  const { by } = standingOut(sight, map, grid, family, units, (_, index) => index);
  return by > LEAST_GOING_ON;
}

/** By how many standard errors the mean curvature on the lines exceeds that between them. */
function standingOut(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  units: readonly MarkUnit[],
  lineOf: (unit: MarkUnit, index: number) => number,
) {
  const lines = family === 0 ? grid.xs : grid.ys;
  /** Mean curvature along each line in the picture, moved by a share of its gap. */
  const means = (share: number): number[] => {
    const sums = new Map<number, readonly [sum: number, count: number]>();
    for (const [index, unit] of units.entries()) {
      const line = lineOf(unit, index);
      const next = Math.min(line + 1, lines.length - 1);
      const moved = moveUnit(unit, family, share * (lines[next] - lines[next - 1]));
      const value = curvatureOn(sight, map, moved);
      if (value === undefined) continue;
      const [sum, count] = sums.get(line) ?? [0, 0];
      sums.set(line, [sum + value, count + 1]);
    }
    return [...sums.values()].map(([sum, count]) => sum / count);
  };
  const marks = means(0);
  const texture = BETWEEN.flatMap(means);
  const [own, usual] = [meanOf(marks), meanOf(texture)];
  const variance =
    texture.reduce((sum, value) => sum + (value - usual) ** 2, 0) / (texture.length - 1);
  const error = Math.sqrt(variance * (1 / marks.length + 1 / texture.length));
  return { own, means, by: marks.length < 3 ? 0 : (own - usual) / error };
}

/** Not a number where there are none. */
function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
