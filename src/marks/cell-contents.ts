/** What a program marks in each cell of its even grid, in units of the cell, the program turned by quarter turns. */

import type { MarkUnit, ProgramGrid } from './program-grid.js';

/** A bit of a mark within a cell: coordinates from the cell's lower corner, 0 to 1. */
export interface CellMark {
  readonly x1: number;
  readonly y1: number;
  readonly x2: number;
  readonly y2: number;
  /** As in MarkUnit, in the turned frame: 0 along the second axis, 1 along the first, 2 neither. */
  readonly family: 0 | 1 | 2;
}

/** The marks of one cell; cells with the same marks share one. */
export interface CellPattern {
  readonly marks: readonly number[];
}

export interface CellContents {
  /** Every distinct mark of all cells. */
  readonly marks: readonly CellMark[];
  readonly patterns: readonly CellPattern[];
  /** Index of a cell's pattern by its column and row in the turned frame; -1 where nothing is marked. */
  readonly patternAt: (column: number, row: number) => number;
  /** Lowest and highest column and row that hold a mark. */
  readonly columns: Span;
  readonly rows: Span;
  /** Affine [a b c; d e f]: commanded mm → cells of the turned frame. */
  readonly fromCommanded: readonly number[];
}

export type QuarterTurns = 0 | 1 | 2 | 3;

/** Lowest and highest. */
export type Span = readonly [number, number];

/** Marks nearer to one another than this are the same; share of the cell. */
const GRAIN = 1 / 250;
/** Bits of a line longer than this are halved: a board often ends within half a cell of its outer line. */
const HALVED = 0.7;
/** A shorter bit shows nothing; share of the cell. */
const SHORTEST = 0.05;

/** Affine [a b c; d e f]: commanded mm → cells of the program turned about its first crossing. */
export function turnedCells({ pitchMm, xs, ys }: ProgramGrid, turns: QuarterTurns): number[] {
  const [px, py] = pitchMm;
  const [c, s] = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ][turns];
  const [x0, y0] = [xs[0], ys[0]];
  const alongFirst = -(c * x0) / px + (s * y0) / py;
  const alongSecond = -(s * x0) / px - (c * y0) / py;
  return [c / px, -s / py, alongFirst, s / px, c / py, alongSecond];
}

/** @param grid evenly spaced in either direction. */
export function listCellContents(grid: ProgramGrid, turns: QuarterTurns): CellContents {
  const fromCommanded = turnedCells(grid, turns);
  const [a, b, e, d, f, g] = fromCommanded;
  const marks: CellMark[] = [];
  const indexOf = new Map<string, number>();
  const cells = new Map<string, { column: number; row: number; marks: Set<number> }>();
  for (const unit of grid.units.flatMap((one) => halve(one, grid.pitchMm))) {
    const x1 = a * unit.x1 + b * unit.y1 + e;
    const y1 = d * unit.x1 + f * unit.y1 + g;
    const x2 = a * unit.x2 + b * unit.y2 + e;
    const y2 = d * unit.x2 + f * unit.y2 + g;
    if (Math.hypot(x2 - x1, y2 - y1) < SHORTEST) continue;
    const column = Math.floor((x1 + x2) / 2 + GRAIN);
    const row = Math.floor((y1 + y2) / 2 + GRAIN);
    // Either sense of drawing leaves the same mark.
    const isForward = x1 < x2 - GRAIN || (x1 < x2 + GRAIN && y1 < y2);
    const own = [x1 - column, y1 - row, x2 - column, y2 - row];
    const [u1, v1, u2, v2] = isForward ? own : [own[2], own[3], own[0], own[1]];
    const family = unit.family === 2 || turns % 2 === 0 ? unit.family : unit.family === 0 ? 1 : 0;
    const mark: CellMark = { x1: u1, y1: v1, x2: u2, y2: v2, family };
    const key = [u1, v1, u2, v2].map((value) => Math.round(value / GRAIN)).join(' ');
    const index = indexOf.get(key) ?? marks.push(mark) - 1;
    indexOf.set(key, index);
    const place = `${column} ${row}`;
    const cell = cells.get(place) ?? { column, row, marks: new Set() };
    cells.set(place, cell);
    cell.marks.add(index);
  }
  return { marks, fromCommanded, ...tabulate([...cells.values()]) };
}

function halve(unit: MarkUnit, [px, py]: ProgramGrid['pitchMm']): MarkUnit[] {
  const { x1, y1, x2, y2, family } = unit;
  if (family === 2 || Math.hypot((x2 - x1) / px, (y2 - y1) / py) < HALVED) return [unit];
  const [x, y] = [(x1 + x2) / 2, (y1 + y2) / 2];
  return [
    { ...unit, x2: x, y2: y },
    { ...unit, x1: x, y1: y },
  ];
}

export function spanOf(values: readonly number[]): Span {
  return [Math.min(...values), Math.max(...values)];
}

function tabulate(
  cells: readonly { column: number; row: number; marks: ReadonlySet<number> }[],
): Pick<CellContents, 'patterns' | 'patternAt' | 'columns' | 'rows'> {
  const columns = spanOf(cells.map(({ column }) => column));
  const rows = spanOf(cells.map(({ row }) => row));
  const across = columns[1] - columns[0] + 1;
  const table = new Int32Array(across * (rows[1] - rows[0] + 1)).fill(-1);
  const patterns: CellPattern[] = [];
  const indexOf = new Map<string, number>();
  for (const { column, row, marks } of cells) {
    const sorted = [...marks].sort((p, q) => p - q);
    const key = sorted.join(' ');
    const index = indexOf.get(key) ?? patterns.push({ marks: sorted }) - 1;
    indexOf.set(key, index);
    table[(row - rows[0]) * across + column - columns[0]] = index;
  }
  const patternAt = (column: number, row: number) =>
    column < columns[0] || column > columns[1] || row < rows[0] || row > rows[1]
      ? -1
      : table[(row - rows[0]) * across + column - columns[0]];
  return { patterns, patternAt, columns, rows };
}
