/** Strokes → the grid they form: lines at constant X, lines at constant Y, and the rest. */

import type { Approach, Stroke } from '../../shared/stroke.js';
import { failed, type Outcome, success } from '../quantity/index.js';

export interface GridLine {
  /** Where the line lies across, mm. */
  readonly positionMm: number;
  /** Ids of the strokes on the line, in order of marking. */
  readonly strokes: readonly number[];
  /** Extent along the line, mm. */
  readonly fromMm: number;
  readonly toMm: number;
}

export interface Grid {
  /** Lines at constant X, by rising X. */
  readonly linesAtX: readonly GridLine[];
  /** Lines at constant Y, by rising Y. */
  readonly linesAtY: readonly GridLine[];
  /** Short strokes across X between the lines, in rows: they show errors that the lines' rhythm hides. */
  readonly rungsAtX: readonly GridLine[];
  readonly rungsAtY: readonly GridLine[];
  /** Ids of strokes of lines at constant X, at constant Y, that mark a line once more, much later. */
  readonly repeated: { readonly x: readonly number[]; readonly y: readonly number[] };
  /** Ids of strokes that are no part of lines or rungs: origin marks, arrows, labels. */
  readonly otherStrokes: readonly number[];
}

/** Strokes closer than this lie on one line, mm: rounding of inches, far below any mark. */
export const SAME_LINE_MM = 1e-6;

/** Fewer lines each way are not measured: three parallel edges are found on every table. */
export const FEWEST_MEASURED_LINES = 4;

/** Two lines have one spacing; three are the least that show a rhythm. */
const FEWEST_LINES = 3;

/** A row of rungs has as many at least: fewer may be ticks of an arrow or a letter. */
const FEWEST_RUNGS = 5;
/** Nearer to each other or to a line, marks are a scale or a hatch, and spoil each other's profile, mm. */
const CLOSEST_RUNGS_MM = 4;
/** Shorter strokes are ticks and labels, mm. */
const SHORTEST_RUNG_MM = 6;
/** A line counts as marked again when this share of the other lines was begun in between. */
const LATER_SHARE = 0.5;

/** No bed is longer, mm; a slip of the decimal point must not fill the memory with stretches of lines. */
const MOST_SPAN_MM = 100_000;
/** Ten times those of a large bed at close lines: far more would take minutes. */
const MOST_CROSSINGS = 20_000;

/** A group of strokes is a grid line from this share of a typical line's length on. */
const LEAST_SHARE = 1 / 3;

/**
 * Describes the grid. Axis-parallel strokes are grouped by position; a group is a line of the grid
 * if it is at least a third as long as a typical line of its direction. Typical is the median
 * *by length* (half of all that is marked lies on lines at least that long): a label of many short
 * strokes then does not pull it down.
 *
 * Rungs: five or more parallel strokes of one extent, 6 mm or longer, 4 mm or more from each other and
 * from the lines. Repeated: a stroke of a line that was marked after at least half of the other lines of its
 * direction had been begun since the line's own first stroke of the same approach across. Halves of the
 * other approach, marked in a pass of their own, repeat nothing: against the first pass they would show
 * lost motion.
 *
 * Fails: PROGRAM_NO_MARKS; PROGRAM_NO_GRID.
 */
export function describeGrid(strokes: readonly Stroke[]): Outcome<Grid> {
  if (strokes.length === 0) {
    return failed('PROGRAM_NO_MARKS', 'the program marks no straight line', {
      hint: 'give the program that marked the grid',
    });
  }
  const linesAtX = findLines(strokes, 0);
  const linesAtY = findLines(strokes, 1);
  if (linesAtX.length < FEWEST_LINES || linesAtY.length < FEWEST_LINES) {
    return failed(
      'PROGRAM_NO_GRID',
      `expected at least ${FEWEST_LINES} lines at constant X and ${FEWEST_LINES} at constant Y, found ${linesAtX.length} and ${linesAtY.length}`,
      {
        figures: { linesAtX: linesAtX.length, linesAtY: linesAtY.length },
        hint: 'give the program that marked the grid; lines must run along X and Y',
      },
    );
  }
  const refused = refuseVast(strokes, linesAtX, linesAtY);
  if (refused !== undefined) return refused;
  const rungsAtX = findRungs(strokes, 0, linesAtX);
  const rungsAtY = findRungs(strokes, 1, linesAtY);
  const all = [...linesAtX, ...linesAtY, ...rungsAtX, ...rungsAtY];
  const inGrid = new Set(all.flatMap((line) => line.strokes));
  const otherStrokes = strokes.map((stroke) => stroke.id).filter((id) => !inGrid.has(id));
  const byId = new Map(strokes.map((stroke) => [stroke.id, stroke]));
  const repeated = { x: findRepeated(linesAtX, byId, 'x'), y: findRepeated(linesAtY, byId, 'y') };
  return success({ linesAtX, linesAtY, rungsAtX, rungsAtY, repeated, otherStrokes });
}

function refuseVast(
  strokes: readonly Stroke[],
  linesAtX: readonly GridLine[],
  linesAtY: readonly GridLine[],
): ReturnType<typeof failed> | undefined {
  const hint = 'check the units of the program, its decimal points, or the pitch and the counts';
  const crossings = linesAtX.length * linesAtY.length;
  if (crossings > MOST_CROSSINGS) {
    return failed(
      'PROGRAM_NO_GRID',
      `${linesAtX.length} × ${linesAtY.length} lines cross at more than ${MOST_CROSSINGS} places`,
      { figures: { linesAtX: linesAtX.length, linesAtY: linesAtY.length }, hint },
    );
  }
  const own = new Set([...linesAtX, ...linesAtY].flatMap((line) => line.strokes));
  for (const axis of [0, 1] as const) {
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (const { id, fromMm, toMm } of strokes) {
      if (!own.has(id)) continue;
      low = Math.min(low, fromMm[axis], toMm[axis]);
      high = Math.max(high, fromMm[axis], toMm[axis]);
    }
    if (high - low <= MOST_SPAN_MM) continue;
    const spanM = Math.round((high - low) / 1000);
    return failed(
      'PROGRAM_NO_GRID',
      `the lines span ${spanM} m along ${axis === 0 ? 'X' : 'Y'}: expected at most ${MOST_SPAN_MM / 1000} m`,
      { figures: { spanM }, hint },
    );
  }
  return undefined;
}

/** From which side a mark across an axis was reached. */
export function approachAcross(stroke: Stroke, axis: 'x' | 'y'): Approach {
  return axis === 'x' ? stroke.approachX : stroke.approachY;
}

/** Rows of rungs, by rising position. */
function findRungs(
  strokes: readonly Stroke[],
  across: 0 | 1,
  lines: readonly GridLine[],
): GridLine[] {
  const along = across === 0 ? 1 : 0;
  const isAtLine = (position: number) =>
    lines.some((line) => Math.abs(line.positionMm - position) < CLOSEST_RUNGS_MM);
  const candidates = strokes.flatMap((stroke): Candidate[] => {
    const position = stroke.fromMm[across];
    if (Math.abs(stroke.toMm[across] - position) > SAME_LINE_MM || isAtLine(position)) return [];
    const [from, to] = [stroke.fromMm[along], stroke.toMm[along]].sort((p, q) => p - q) as [
      number,
      number,
    ];
    return to - from < SHORTEST_RUNG_MM ? [] : [{ stroke, position, from, to }];
  });
  const rows: Candidate[][] = [];
  for (const one of candidates) {
    const row = rows.find(([first]) => isSame(first!.from, one.from) && isSame(first!.to, one.to));
    if (row === undefined) rows.push([one]);
    // Marked twice in one place: nobody can tell the marks apart, the first one stands for both.
    else if (!row.some(({ position }) => isSame(position, one.position))) row.push(one);
  }
  return rows
    .map((row) => row.sort((a, b) => a.position - b.position))
    .filter((row) => row.length >= FEWEST_RUNGS && row.every((_, i) => isApart(row, i)))
    .flat()
    .sort((a, b) => a.position - b.position)
    .map(({ stroke }) => describeLine(findRuns([stroke], along), across));
}

/** A stroke that may be a rung: place across, ends along it, mm. */
interface Candidate {
  readonly stroke: Stroke;
  readonly position: number;
  readonly from: number;
  readonly to: number;
}

function isSame(one: number, other: number): boolean {
  return Math.abs(one - other) <= SAME_EXTENT_MM;
}

function isApart(row: readonly Candidate[], i: number): boolean {
  const before = row[i - 1];
  return before === undefined || row[i]!.position - before.position >= CLOSEST_RUNGS_MM;
}

/** Extents and places of rungs that differ by less are equal, mm: rounding of programs in inches. */
const SAME_EXTENT_MM = 0.01;

function findRepeated(
  lines: readonly GridLine[],
  byId: ReadonlyMap<number, Stroke>,
  axis: 'x' | 'y',
): number[] {
  const approach = (id: number) => approachAcross(byId.get(id)!, axis);
  const begun = lines.map((line) => line.strokes[0]!);
  return lines
    .flatMap((line) =>
      line.strokes.filter((id) => {
        const firstOfKind = line.strokes.find((other) => approach(other) === approach(id))!;
        const between = begun.filter((first) => first > firstOfKind && first < id).length;
        return between > 0 && between >= LATER_SHARE * (lines.length - 1);
      }),
    )
    .sort((a, b) => a - b);
}

/** @param across 0 for lines at constant X, 1 for lines at constant Y. */
function findLines(strokes: readonly Stroke[], across: 0 | 1): GridLine[] {
  const along = across === 0 ? 1 : 0;
  const parallel = strokes
    .filter((s) => Math.abs(s.toMm[across] - s.fromMm[across]) <= SAME_LINE_MM)
    .sort((a, b) => a.fromMm[across] - b.fromMm[across]);
  const groups: Stroke[][] = [];
  for (const stroke of parallel) {
    const before = groups.at(-1)?.at(-1);
    const isSame =
      before !== undefined && stroke.fromMm[across] - before.fromMm[across] <= SAME_LINE_MM;
    if (isSame) groups.at(-1)!.push(stroke);
    else groups.push([stroke]);
  }
  const lines = groups.map((group) => dropStubs(findRuns(group, along)));
  const lengths = lines.map((runs) => runs.reduce((sum, run) => sum + run.to - run.from, 0));
  const typical = medianByLength(lengths);
  return lines
    .filter((_, index) => lengths[index]! >= LEAST_SHARE * typical)
    .map((runs) => describeLine(runs, across));
}

/** Strokes on one line that touch or overlap; extent along the line, mm. */
interface Run {
  readonly strokes: Stroke[];
  readonly from: number;
  to: number;
}

function findRuns(group: readonly Stroke[], along: 0 | 1): Run[] {
  const low = (s: Stroke) => Math.min(s.fromMm[along], s.toMm[along]);
  const high = (s: Stroke) => Math.max(s.fromMm[along], s.toMm[along]);
  const runs: Run[] = [];
  for (const stroke of [...group].sort((a, b) => low(a) - low(b))) {
    const before = runs.at(-1);
    if (before !== undefined && low(stroke) <= before.to + SAME_LINE_MM) {
      before.strokes.push(stroke);
      before.to = Math.max(before.to, high(stroke));
    } else {
      runs.push({ strokes: [stroke], from: low(stroke), to: high(stroke) });
    }
  }
  return runs;
}

/** A tick or part of a letter that happens to stand in line with a grid line is no part of it. */
function dropStubs(runs: readonly Run[]): Run[] {
  const longest = Math.max(...runs.map((run) => run.to - run.from));
  return runs.filter((run) => run.to - run.from >= LEAST_SHARE * longest);
}

function medianByLength(lengths: readonly number[]): number {
  const longestFirst = [...lengths].sort((a, b) => b - a);
  const half = longestFirst.reduce((sum, length) => sum + length, 0) / 2;
  let sum = 0;
  for (const length of longestFirst) {
    sum += length;
    if (sum >= half) return length;
  }
  return 0;
}

function describeLine(runs: readonly Run[], across: 0 | 1): GridLine {
  const strokes = runs.flatMap((run) => run.strokes);
  return {
    positionMm: strokes[0]!.fromMm[across],
    strokes: strokes.map((stroke) => stroke.id).sort((a, b) => a - b),
    fromMm: runs[0]!.from,
    toMm: runs.at(-1)!.to,
  };
}
