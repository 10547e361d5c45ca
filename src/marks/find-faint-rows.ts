/**
 * Where the lines of a family lie that is fainter than the grain it runs along, once the other family is placed:
 * between the ends of that one's lines, where most is marked along all of them together.
 */

import { mapToEnds, moveCorners } from './ends-of-lines.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';
import { WORST_ASPECT } from './judge-placement.js';
import { aspectOf } from './measure-placement.js';
import { curvatureOn, type Sight } from './probe-unit.js';
import { bitOfLine, type ProgramGrid } from './program-grid.js';
import { isUnmirrored } from './propose-placements.js';

/** The outer lines lie this near to where the lines of the other family end; share of the gap. */
const NEAR_END = 0.4;
/** Steps of the first search to either side, and how wide they are at least: about a mark; px. */
const STEPS = 5;
const LEAST_STEP_PX = 3;
/** Kept for a closer look, each differing from the others by more than this share of a gap at some corner. */
const KEPT = 4;
const DISTINCT = 0.15;

/** How far the outer lines lie from where the first map has them, at the ends of the other family; px. */
type Shifts = readonly [lowFirst: number, lowLast: number, highFirst: number, highLast: number];

/**
 * @param family the faint one.
 * @returns maps that leave the other family about where it is, the most marked first; possibly none.
 */
export function findFaintRows(
  sight: Sight,
  start: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
): ImageMap[] {
  const map = mapToEnds(sight, start, grid, family === 0 ? 1 : 0);
  if (map === undefined || !isUnmirrored(map, grid)) return [];
  if (Math.abs(Math.log(aspectOf(map))) > WORST_ASPECT) return [];
  const lines = family === 0 ? grid.xs : grid.ys;
  const mmPerPx = mmAcross(map, grid, family);
  const gapPx = (lines[lines.length - 1] - lines[0]) / (lines.length - 1) / mmPerPx;
  const reach = NEAR_END * gapPx;
  const table = CurvatureTable.of(sight, map, grid, family, mmPerPx, 2 * reach);
  const step = Math.max(LEAST_STEP_PX, reach / STEPS);
  const side: number[] = [];
  for (let at = 0; at <= reach; at += step) side.push(at, ...(at > 0 ? [-at] : []));
  const coarse = table.blurred(step / 2);
  const found: { shifts: Shifts; score: number }[] = [];
  for (const a of side) {
    for (const b of side) {
      for (const c of side) {
        for (const d of side) {
          const shifts = [a, b, c, d] as const;
          found.push({ shifts, score: coarse.scoreOf(shifts) });
        }
      }
    }
  }
  found.sort((p, q) => q.score - p.score);
  const kept: typeof found = [];
  for (const one of found) {
    const isNear = kept.some(({ shifts }) =>
      shifts.every(
        (at, i) => Math.abs(at - one.shifts[i]) < Math.max(1.5 * step, DISTINCT * gapPx),
      ),
    );
    if (!isNear) kept.push(one);
    if (kept.length === KEPT) break;
  }
  const fine = table.blurred(1);
  return kept
    .map(({ shifts }) => climb(fine, shifts, step / 2))
    .sort((p, q) => q.score - p.score)
    .map(({ shifts }) => moveCorners(map, grid, cornersOf(grid, family, shifts, mmPerPx)));
}

/** The nearest best shifts, by ever smaller steps at one corner or two neighbouring ones. */
function climb(table: CurvatureTable, start: Shifts, first: number) {
  let best = { shifts: start, score: table.scoreOf(start) };
  for (let step = first; step >= 0.5; step /= 2) {
    for (let round = 0; round < CLIMBS; round++) {
      const from = best;
      for (const move of MOVES) {
        for (const sense of [-step, step]) {
          const [a, b, c, d] = best.shifts.map((at, i) => at + sense * move[i]);
          const score = table.scoreOf([a, b, c, d]);
          if (score > best.score) best = { shifts: [a, b, c, d], score };
        }
      }
      if (best === from) break;
    }
  }
  return best;
}

const CLIMBS = 10;
const MOVES = [
  [1, 0, 0, 0],
  [0, 1, 0, 0],
  [0, 0, 1, 0],
  [0, 0, 0, 1],
  [1, 1, 0, 0],
  [0, 0, 1, 1],
  [1, 0, 1, 0],
  [0, 1, 0, 1],
  [1, 1, 1, 1],
];

/** Curvature across the family's lines, wherever they may lie, per gap of the other family. */
class CurvatureTable {
  private readonly gaps: number;
  /** Places of the lines, and midway between them; px from the first line. */
  private readonly places: readonly { readonly atPx: number; readonly share: number }[];

  private constructor(
    private readonly lines: Float64Array,
    private readonly values: readonly Float64Array[],
    private readonly mmPerPx: number,
    private readonly marginPx: number,
  ) {
    this.gaps = values.length;
    const span = lines[lines.length - 1] - lines[0];
    this.places = Array.from({ length: 2 * lines.length - 1 }, (_, i) => {
      const at = (lines[i >> 1] + lines[(i + 1) >> 1]) / 2 - lines[0];
      return { atPx: at / mmPerPx, share: at / span };
    });
  }

  static of(
    sight: Sight,
    map: ImageMap,
    grid: ProgramGrid,
    family: 0 | 1,
    mmPerPx: number,
    marginPx: number,
  ): CurvatureTable {
    const [lines, cross] = family === 0 ? [grid.xs, grid.ys] : [grid.ys, grid.xs];
    const span = lines[lines.length - 1] - lines[0];
    const bins = Math.ceil(span / mmPerPx + 2 * marginPx) + 1;
    const values = Array.from(cross.subarray(1), (to, g) =>
      Float64Array.from({ length: bins }, (_, b) => {
        const at = lines[0] + (b - marginPx) * mmPerPx;
        return curvatureOn(sight, map, bitOfLine(family, at, cross[g], to)) ?? 0;
      }),
    );
    return new CurvatureTable(lines, values, mmPerPx, marginPx);
  }

  /** Means over so many px to either side, so that a near miss counts. */
  blurred(halfPx: number): CurvatureTable {
    const half = Math.max(1, Math.round(halfPx));
    const values = this.values.map((row) =>
      row.map((_, b) => {
        let sum = 0;
        for (let k = b - half; k <= b + half; k++) sum += row[k] ?? 0;
        return sum / (2 * half + 1);
      }),
    );
    return new CurvatureTable(this.lines, values, this.mmPerPx, this.marginPx);
  }

  /** Mean curvature on the lines less that midway between them. */
  scoreOf([lowFirst, lowLast, highFirst, highLast]: Shifts): number {
    let own = 0;
    let between = 0;
    for (let g = 0; g < this.gaps; g++) {
      const t = (g + 0.5) / this.gaps;
      const low = this.marginPx + 0.5 + lowFirst + t * (lowLast - lowFirst);
      const high = this.marginPx + 0.5 + highFirst + t * (highLast - highFirst);
      const row = this.values[g];
      for (let i = 0; i < this.places.length; i++) {
        const { atPx, share } = this.places[i];
        const value = row[Math.floor(atPx + low + share * (high - low))] ?? 0;
        if (i % 2 === 0) own += value;
        else between += value;
      }
    }
    const n = this.lines.length;
    return (own / n - between / (n - 1)) / this.gaps;
  }
}

/** Lower left, lower right, upper right and upper left corner; mm of the first map. */
function cornersOf(
  { xs, ys }: ProgramGrid,
  family: 0 | 1,
  shifts: Shifts,
  mmPerPx: number,
): readonly (readonly [number, number])[] {
  const [lowFirst, lowLast, highFirst, highLast] = shifts.map((px) => px * mmPerPx);
  const [x0, x1, y0, y1] = [xs[0], xs[xs.length - 1], ys[0], ys[ys.length - 1]];
  return family === 0
    ? [
        [x0 + lowFirst, y0],
        [x1 + highFirst, y0],
        [x1 + highLast, y1],
        [x0 + lowLast, y1],
      ]
    : [
        [x0, y0 + lowFirst],
        [x1, y0 + lowLast],
        [x1, y1 + highLast],
        [x0, y1 + highFirst],
      ];
}

/** Mm per pixel across the family's lines, in the middle of the grid. */
function mmAcross(map: ImageMap, { xs, ys, pitchMm }: ProgramGrid, family: 0 | 1): number {
  const x = (xs[0] + xs[xs.length - 1]) / 2;
  const y = (ys[0] + ys[ys.length - 1]) / 2;
  const d = pitchMm[family] / 2;
  const [ua, va] = imageFromCommanded(map, x - (family === 0 ? d : 0), y - (family === 1 ? d : 0));
  const [ub, vb] = imageFromCommanded(map, x + (family === 0 ? d : 0), y + (family === 1 ? d : 0));
  return (2 * d) / Math.hypot(ub - ua, vb - va);
}
