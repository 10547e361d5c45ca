/**
 * Whether crossing lines lead to a line. A frame, a row of print or the edge of the board lies beside a
 * grid like one more line, but nothing joins it to the grid; and what covers a line covers what leads to
 * it as well, so that only those places say anything at which the line itself shows.
 */

import type { ImageMap } from './image-map.js';
import { probeBold, probeUnit, type Sight } from './probe-unit.js';
import { bitOfLine, type ProgramGrid } from './program-grid.js';
import { aboveTexture, count, newTally, oddsOf, shareSeen, type Tally } from './tally.js';

export interface Joint {
  /** Halves of the line beside the crossings, and those that show. */
  readonly line: Tally;
  /** Share of the crossing lines that lead to it where it shows, above what texture yields; 0..1. */
  readonly joined: number;
  /** Pieces of crossing lines that this share rests on, and those that show. */
  readonly rungs: Tally;
  /** Share of such pieces that texture alone yields. */
  readonly chance: number;
}

/**
 * Log odds that crossing lines lead to a line as they do to inner ones, against texture alone.
 *
 * @param usual the share joined inside the grid; see `usualJoint`.
 */
export function jointOdds({ rungs, chance }: Joint, usual: number): number {
  const off = Math.min(0.9, Math.max(0.05, chance));
  const on = Math.min(0.95, off + (1 - off) * usual);
  return oddsOf(rungs, { on, off });
}

/**
 * Half-width of the search, share of the gap: maps are extended here, so a little wider than what marks
 * scatter by, but finer lines at two fifths of a gap must not pass for what lies midway.
 */
const WINDOW = 0.08;
/** The same one gap outside the grid, where a curled sheet leaves the extended map. */
export const WINDOW_BEYOND = 0.14;
/** Share of a crossing line between two lines that is looked at, in this many pieces. */
const PIECES = 2;
/** Lines inside the grid that show how well crossing lines usually lead from line to line. */
const INNER_LINES = 7;

/**
 * @param at position of the line across its family, mm.
 * @param from position of its neighbour towards the grid, mm.
 * @param window half-width of the search, share of the gap.
 */
export function weighJoint(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  at: number,
  from: number,
  limits: readonly [number, number],
  window = WINDOW,
): Joint {
  const cross = family === 0 ? grid.ys : grid.xs;
  const line = newTally();
  const rungs = newTally();
  const texture = newTally();
  const other = family === 0 ? 1 : 0;
  for (let j = 0; j < cross.length; j++) {
    const sides = [j - 1, j + 1].flatMap((k) =>
      cross[k] === undefined ? [] : [(cross[k] + cross[j]) / 2],
    );
    const beside = sides.map((end) =>
      probeBold(sight, map, grid, bitOfLine(family, at, cross[j], end), window, limits[family]),
    );
    const inside = beside.filter((probe) => probe.inside);
    if (inside.length === 0) continue;
    for (const probe of inside) count(line, probe, limits[family]);
    if (!inside.some((probe) => probe.strength >= limits[family])) continue;
    for (let k = 0; k < PIECES; k++) {
      const a = from + ((at - from) * k) / PIECES;
      const b = from + ((at - from) * (k + 1)) / PIECES;
      const probe = probeUnit(sight, map, grid, bitOfLine(other, cross[j], a, b), window);
      if (probe.inside) count(rungs, probe, limits[other]);
      for (const end of sides) {
        const between = probeUnit(sight, map, grid, bitOfLine(other, end, a, b), window);
        if (between.inside) count(texture, between, limits[other]);
      }
    }
  }
  const joined = shareSeen(aboveTexture(rungs, texture));
  return { line, joined, rungs, chance: shareSeen(texture) };
}

/** How well crossing lines lead from line to line inside the grid; the median of some lines. */
export function usualJoint(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  limits: readonly [number, number],
): number {
  const lines = family === 0 ? grid.xs : grid.ys;
  const stride = Math.max(1, Math.floor((lines.length - 2) / INNER_LINES));
  const seen: number[] = [];
  for (let k = 1; k + 1 < lines.length; k += stride) {
    const inner = lines[k < lines.length / 2 ? k + 1 : k - 1];
    const { joined, rungs } = weighJoint(sight, map, grid, family, lines[k], inner, limits);
    if (rungs.total > 0) seen.push(joined);
  }
  return Float64Array.from(seen).sort()[seen.length >> 1] ?? 0;
}

/**
 * Share of crossing lines that go on towards a line outside the picture, as far as the picture reaches;
 * undefined where it ends at once.
 *
 * @param from the outermost line in the picture, mm.
 * @param gap signed way to the next line outwards, mm.
 */
export function goesOnToEdge(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
  from: number,
  gap: number,
  limits: readonly [number, number],
): number | undefined {
  const cross = family === 0 ? grid.ys : grid.xs;
  const other = family === 0 ? 1 : 0;
  const rungs = newTally();
  const texture = newTally();
  for (let j = 0; j < cross.length; j++) {
    for (let k = 0; k < EDGE_PIECES; k++) {
      const a = from + (gap * k) / EDGE_PIECES;
      const b = from + (gap * (k + 1)) / EDGE_PIECES;
      const probe = probeUnit(sight, map, grid, bitOfLine(other, cross[j], a, b), WINDOW);
      if (probe.inside) count(rungs, probe, limits[other]);
      if (cross[j + 1] === undefined) continue;
      const middle = (cross[j] + cross[j + 1]) / 2;
      const between = probeUnit(sight, map, grid, bitOfLine(other, middle, a, b), WINDOW);
      if (between.inside) count(texture, between, limits[other]);
    }
  }
  if (rungs.total < FEWEST_PIECES) return undefined;
  return shareSeen(aboveTexture(rungs, texture));
}

const EDGE_PIECES = 3;
/** Fewer pieces than this tell nothing. */
const FEWEST_PIECES = 4;
