/** A grid of few segments that tells as much as a large one, so that a forecast takes seconds. */

import type { ExpectedNetwork, ExpectedSizes } from '../network/index.js';

export type GridPart = Pick<
  ExpectedNetwork,
  'layout' | 'placements' | 'segments' | 'sigmaPx' | 'sigmaMarkMm' | 'sizes'
>;

/** More lines along an axis than this add unknowns, but hardly any that squareness or scale could notice. */
const MOST_LINES = 60;

/**
 * Keeps about every k-th segment of each line, approach and repetition, and of very many lines every m-th:
 * what is kept stands for k (and m) of its neighbours, so that its standard deviations are smaller by the
 * square root. What is asked of the machine varies slowly along lines and from line to line. Uncertainties
 * come out within a tenth; within a fifth where lines are left out.
 *
 * @param most segments to keep, about.
 */
export function thinGrid(grid: GridPart, most: number): GridPart {
  const fewer = thinLines(grid);
  const groups = new Map<string, number[]>();
  fewer.segments.forEach(({ placement, axis, line, approach, isRepeated }, i) => {
    const key = `${placement} ${axis} ${line} ${approach} ${isRepeated === true}`;
    groups.set(key, [...(groups.get(key) ?? []), i]);
  });
  const every = Math.max(1, Math.round(fewer.segments.length / most));
  if (every === 1) return fewer;
  const kept = [...groups.values()].flatMap((group, g) => {
    // From line to line another one, and of every group one at least.
    const first = g % Math.min(every, group.length);
    return group.filter((_, k) => k % every === first);
  });
  const segments = kept.sort((a, b) => a - b).map((i) => fewer.segments[i]);
  const share = Math.sqrt(segments.length / fewer.segments.length);
  return {
    ...fewer,
    segments,
    sigmaPx: fewer.sigmaPx * share,
    sigmaMarkMm: fewer.sigmaMarkMm * share,
  };
}

function thinLines(grid: GridPart): GridPart {
  const { layout } = grid;
  const x = keepSome(layout.linesAtX, layout.rungsAtX ?? []);
  const y = keepSome(layout.linesAtY, layout.rungsAtY ?? []);
  if (x.isWhole && y.isWhole) return grid;
  const segments = grid.segments.flatMap((segment) => {
    const line =
      segment.line === undefined
        ? undefined
        : (segment.axis === 'x' ? x : y).place.get(segment.line);
    return line === undefined ? [] : [{ ...segment, line }];
  });
  const share = Math.sqrt(segments.length / grid.segments.length);
  const sizes: ExpectedSizes = { ...grid.sizes, lineMm: grid.sizes.lineMm * share };
  return {
    ...grid,
    layout: {
      ...layout,
      linesAtX: x.lines,
      linesAtY: y.lines,
      rungsAtX: x.rungs,
      rungsAtY: y.rungs,
    },
    segments,
    sigmaPx: grid.sigmaPx * share,
    sigmaMarkMm: grid.sigmaMarkMm * share,
    sizes,
  };
}

interface Kept {
  readonly isWhole: boolean;
  readonly lines: readonly number[];
  readonly rungs: readonly number[];
  /** Old number of a line or, behind them, of a rung → new one. */
  readonly place: ReadonlyMap<number, number>;
}

function keepSome(lines: readonly number[], rungs: readonly number[]): Kept {
  const keptLines = evenly(lines.length);
  const keptRungs = evenly(rungs.length);
  const place = new Map<number, number>();
  for (const [list, shift] of [
    [keptLines, 0],
    [keptRungs, lines.length],
  ] as const) {
    for (const i of list) place.set(shift + i, place.size);
  }
  return {
    isWhole: place.size === lines.length + rungs.length,
    lines: keptLines.map((i) => lines[i]),
    rungs: keptRungs.map((i) => rungs[i]),
    place,
  };
}

/** At most `MOST_LINES` of a count, the first and the last among them. */
function evenly(count: number): number[] {
  if (count <= MOST_LINES) return Array.from({ length: count }, (_, i) => i);
  return Array.from({ length: MOST_LINES }, (_, i) =>
    Math.round((i * (count - 1)) / (MOST_LINES - 1)),
  );
}
