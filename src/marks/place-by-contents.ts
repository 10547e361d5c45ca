/**
 * Which part of a grid a photo shows: the marks seen in each cell in view, compared with the program laid on
 * the lattice at every whole shift and quarter turn.
 */

import { median, robustSigma } from '../numerics/index.js';
import {
  type CellContents,
  type CellMark,
  listCellContents,
  type QuarterTurns,
  type Span,
  spanOf,
  turnedCells,
} from './cell-contents.js';
import type { LocalLattice } from './find-local-lattice.js';
import { type ImageMap, imageFromCommanded, scaledMap } from './image-map.js';
import type { Evidence } from './lattice-evidence.js';
import { aspectOf } from './measure-placement.js';
import { compose } from './placement-turns.js';
import { probeUnit, type Sight } from './probe-unit.js';
import { MIDWAY, type ProgramGrid } from './program-grid.js';
import type { ReducedImage } from './reduce-image.js';
import { EXACT } from './search-placement.js';
import type { Rates } from './tally.js';

/** One way of laying the program on the lattice. */
export interface PartPlacement {
  readonly map: ImageMap;
  readonly turns: QuarterTurns;
  /** Cells by which the turned program is moved. */
  readonly shift: readonly [number, number];
  /** Log odds of its marks in view against no marks at all. */
  readonly odds: number;
}

/** Where to look for marks, as fine as they need. */
export interface PartView {
  readonly lattice: LocalLattice;
  readonly sight: Sight;
  readonly picture: ReducedImage;
  /** A finer look at small marks, and its px per px of `picture`. */
  readonly fine?: { readonly sight: Sight; readonly picture: ReducedImage };
  readonly rates: Rates;
}

/** Program and lattice share at least this many cells each way. */
const LEAST_COMMON = 3;
/** A place that does not look like the board says next to nothing by an absent mark: something may lie on it. */
const COVERED = 0.01;
/** Greys within so many scatters of the board's around them are the board. */
const LIKE_BOARD = 3;
/** Light and stains change a board's grey by this much from cell to cell. */
const LEAST_SCATTER = 4;
/** Grey is read this far beside a mark; share of the cell. Marks and their burnt rims are narrower. */
const BESIDE = 0.17;
/** Cells around a place whose board counts for its own. */
const AROUND = 2;
/** A mark runs along an axis of the cells where it leaves it by less than this slope. */
const SLANT = 0.2;
/** Shorter marks are looked at in the finer picture; px. */
const SHORT_PX = 16;

/** @returns every placement whose cells have the right shape, most likely first. */
export function rankPlacements(
  view: PartView,
  grid: ProgramGrid,
  turnsTried: readonly QuarterTurns[],
): PartPlacement[] {
  const { lattice } = view;
  const isBoard = boardTest(view);
  const inView = [0, 1].map((axis) => spanOf(lattice.cells.map((cell) => cell[axis])));
  const shifts = ([low, high]: Span, [first, last]: Span) =>
    [low - last + LEAST_COMMON, high - first - LEAST_COMMON] as const;
  const ranked: PartPlacement[] = [];
  for (const turns of turnsTried) {
    const contents = listCellContents(grid, turns);
    const odds = oddsByPattern(view, contents, isBoard);
    const [iLow, iHigh] = shifts(inView[0], contents.columns);
    const [jLow, jHigh] = shifts(inView[1], contents.rows);
    for (let i = iLow; i <= iHigh; i++) {
      for (let j = jLow; j <= jHigh; j++) {
        let sum = 0;
        lattice.cells.forEach(([a, b], cell) => {
          const pattern = contents.patternAt(a - i, b - j);
          if (pattern >= 0) sum += odds(pattern, cell);
        });
        ranked.push({
          turns,
          shift: [i, j],
          odds: sum,
          map: mapOf(lattice, contents.fromCommanded, i, j),
        });
      }
    }
  }
  return ranked.sort((p, q) => q.odds - p.odds);
}

/** How far from square pixels would have to be with the program turned so: |ln| of the ratio. */
export function misshapeOf(lattice: LocalLattice, grid: ProgramGrid, turns: QuarterTurns): number {
  return Math.abs(Math.log(aspectOf(mapOf(lattice, turnedCells(grid, turns), 0, 0))));
}

function mapOf(
  lattice: LocalLattice,
  fromCommanded: readonly number[],
  i: number,
  j: number,
): ImageMap {
  const [a, b, c, d, e, f] = fromCommanded;
  return compose(lattice.map, [a, b, c + i, d, e, f + j]);
}

/** Log odds of a pattern in a cell, each worked out once. */
function oddsByPattern(
  { lattice, sight, fine, picture, rates }: PartView,
  contents: CellContents,
  isBoard: (mark: CellMark, a: number, b: number) => boolean,
): (pattern: number, cell: number) => number {
  const count = lattice.cells.length;
  const fineMap = fine && scaledMap(lattice.map, picture.factor / fine.picture.factor);
  const limitOf = (mark: CellMark) => lattice.evidence.limits[grainFamily(mark, lattice.evidence)];
  const seen = Math.log(rates.on / rates.off);
  const unseen = Math.log((1 - rates.on) / (1 - rates.off));
  const oddsOfMark = (index: number, cell: number) => {
    const mark = contents.marks[index];
    const [a, b] = lattice.cells[cell];
    const unit = {
      x1: a + mark.x1,
      y1: b + mark.y1,
      x2: a + mark.x2,
      y2: b + mark.y2,
      family: mark.family,
      line: -1,
    };
    const [u1, v1] = imageFromCommanded(lattice.map, unit.x1, unit.y1);
    const [u2, v2] = imageFromCommanded(lattice.map, unit.x2, unit.y2);
    const isShort = Math.hypot(u2 - u1, v2 - v1) < SHORT_PX;
    const probe =
      isShort && fine !== undefined && fineMap !== undefined
        ? probeUnit(fine.sight, fineMap, UNIT_CELL, unit, EXACT)
        : probeUnit(sight, lattice.map, UNIT_CELL, unit, EXACT);
    if (!probe.inside) return 0;
    if (probe.strength >= limitOf(mark)) return seen;
    return isBoard(mark, a, b) ? unseen : COVERED * unseen;
  };
  const marks = contents.marks.map(() => new Float64Array(count).fill(Number.NaN));
  const patterns = contents.patterns.map(() => new Float64Array(count).fill(Number.NaN));
  return (pattern, cell) => {
    const known = patterns[pattern][cell];
    if (!Number.isNaN(known)) return known;
    let sum = 0;
    for (const index of contents.patterns[pattern].marks) {
      if (Number.isNaN(marks[index][cell])) marks[index][cell] = oddsOfMark(index, cell);
      sum += marks[index][cell];
    }
    patterns[pattern][cell] = sum;
    return sum;
  };
}

/**
 * The family whose places between lines tell what the board's texture makes along a mark: grain passes for
 * marks in its own direction only. Of a slanted one the more textured.
 */
function grainFamily({ x1, y1, x2, y2 }: CellMark, { limits }: Evidence): 0 | 1 {
  const [along, aside] = [Math.abs(x2 - x1), Math.abs(y2 - y1)];
  if (along < SLANT * aside) return 0;
  if (aside < SLANT * along) return 1;
  return limits[0] > limits[1] ? 0 : 1;
}

/**
 * Whether the bare board can be seen where a mark would be: as bright on both sides of it as beside the
 * marks around that are seen. A mark that is not there says something only then.
 */
function boardTest(view: PartView): (mark: CellMark, a: number, b: number) => boolean {
  const { lattice, picture, sight } = view;
  const greyAt = (x: number, y: number) => {
    const [u, v] = imageFromCommanded(lattice.map, x, y).map(Math.round);
    if (u < 0 || v < 0 || u >= picture.width || v >= picture.height) return Number.NaN;
    return picture.data[v * picture.width + u];
  };
  const sidesOf = (mark: CellMark, a: number, b: number) => {
    const length = Math.hypot(mark.x2 - mark.x1, mark.y2 - mark.y1);
    const nx = (-BESIDE * (mark.y2 - mark.y1)) / length;
    const ny = (BESIDE * (mark.x2 - mark.x1)) / length;
    return [-1, 1].map((side) =>
      median(
        [0.1, 0.3, 0.5, 0.7, 0.9].map((t) =>
          greyAt(
            a + mark.x1 + t * (mark.x2 - mark.x1) + side * nx,
            b + mark.y1 + t * (mark.y2 - mark.y1) + side * ny,
          ),
        ),
      ),
    );
  };
  // The bare board's grey in every cell whose lower or left edge shows a mark.
  const greys = new Map<string, number>();
  for (const [a, b] of lattice.cells) {
    const own = EDGES.flatMap((edge) => {
      const unit = { x1: a, y1: b, x2: a + edge.x2, y2: b + edge.y2, family: edge.family, line: 0 };
      const probe = probeUnit(sight, lattice.map, UNIT_CELL, unit, EXACT);
      return probe.strength >= lattice.evidence.limits[edge.family] ? sidesOf(edge, a, b) : [];
    }).filter((grey) => !Number.isNaN(grey));
    if (own.length > 0) greys.set(`${a} ${b}`, median(own));
  }
  const around = (a: number, b: number) => {
    const all: number[] = [];
    for (let i = -AROUND; i <= AROUND; i++) {
      for (let j = -AROUND; j <= AROUND; j++) {
        const grey = greys.get(`${a + i} ${b + j}`);
        if (grey !== undefined) all.push(grey);
      }
    }
    return all;
  };
  const departures = [...greys].map(([key, grey]) => {
    const [a, b] = key.split(' ').map(Number);
    return grey - median(around(a, b));
  });
  const limit = LIKE_BOARD * Math.max(LEAST_SCATTER, robustSigma(departures));
  const usual = new Map<string, number>();
  return (mark, a, b) => {
    const key = `${a} ${b}`;
    const grey = usual.get(key) ?? median(around(a, b));
    usual.set(key, grey);
    // Not a number where no board is seen around: then nothing is like it.
    return sidesOf(mark, a, b).every((side) => Math.abs(side - grey) <= limit);
  };
}

/** Gaps are one cell wide: all that a probe wants to know of the grid. */
const UNIT_CELL: ProgramGrid = {
  xs: Float64Array.of(0, 1),
  ys: Float64Array.of(0, 1),
  units: [],
  pitchMm: [1, 1],
  endsMm: [
    [0, 1],
    [0, 1],
  ],
  freeShare: MIDWAY,
};

const EDGES = [
  { x1: 0, y1: 0, x2: 0, y2: 1, family: 0 },
  { x1: 0, y1: 0, x2: 1, y2: 0, family: 1 },
] as const;
