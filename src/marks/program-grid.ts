/** The grid a program marks: its line positions, and every stroke cut into short units of evidence. */

import type { Stroke } from '../../shared/stroke.js';

/** A straight bit of a commanded stroke, about a grid cell long. */
export interface MarkUnit {
  readonly x1: number;
  readonly y1: number;
  readonly x2: number;
  readonly y2: number;
  /** 0: on a line along Y; 1: on a line along X; 2: neither. */
  readonly family: 0 | 1 | 2;
  /** Index of the grid line within its family; -1 for other marks. */
  readonly line: number;
}

export interface ProgramGrid {
  /** Positions of the lines along Y, ascending; mm. */
  readonly xs: Float64Array;
  /** Positions of the lines along X, ascending; mm. */
  readonly ys: Float64Array;
  readonly units: readonly MarkUnit[];
  /** Usual gap between neighbours, per family; mm. */
  readonly pitchMm: readonly [number, number];
  /** First and last coordinate that the lines of each family reach, along them; units leave short ends out; mm. */
  readonly endsMm: readonly [readonly [number, number], readonly [number, number]];
  /** Share of a gap, from either side, at which no mark is expected. */
  readonly freeShare: number;
}

/** Between lines of one grid alone. */
export const MIDWAY = 1 / 2;
/** Lines of another grid lie about midway, those of one that is a few degrees askew somewhat to the side. */
const QUARTER = 1 / 4;

/** Fewest lines per direction that fix a projective spacing with one to spare. */
const FEWEST_LINES = 4;
/** A stroke this far off an axis is no grid line (slope). */
const AXIS_SLOPE = 0.01;
/** Lines with less than this share of the longest line's marked length are other marks. */
const MAIN_SHARE = 0.4;

/**
 * @param isInterleaved lines of another program may lie between.
 * @returns undefined where the strokes form no grid of lines along both axes.
 */
export function describeGrid(
  strokes: readonly Stroke[],
  isInterleaved = false,
): ProgramGrid | undefined {
  const xs = linePositions(strokes, 0);
  const ys = linePositions(strokes, 1);
  if (xs.length < FEWEST_LINES || ys.length < FEWEST_LINES) return undefined;
  const pitchMm = [medianGap(xs), medianGap(ys)] as const;
  const units: MarkUnit[] = [];
  for (const stroke of strokes) cutStroke(stroke, xs, ys, pitchMm, units);
  const endsMm = [endsOf(strokes, 0, xs), endsOf(strokes, 1, ys)] as const;
  return { xs, ys, units, pitchMm, endsMm, freeShare: isInterleaved ? QUARTER : MIDWAY };
}

/** A bit of a line of one family, wherever it may lie: `at` across the family, from and to along it; mm. */
export function bitOfLine(family: 0 | 1, at: number, from: number, to: number): MarkUnit {
  return family === 0
    ? { x1: at, y1: from, x2: at, y2: to, family, line: -1 }
    : { x1: from, y1: at, x2: to, y2: at, family, line: -1 };
}

/** A unit moved across its family's lines. */
export function moveUnit(unit: MarkUnit, family: 0 | 1, byMm: number): MarkUnit {
  return family === 0
    ? { ...unit, x1: unit.x1 + byMm, x2: unit.x2 + byMm }
    : { ...unit, y1: unit.y1 + byMm, y2: unit.y2 + byMm };
}

/** Axis a stroke runs along: 0 for lines at constant x, 1 for constant y, 2 for neither. */
function strokeFamily(stroke: Stroke): 0 | 1 | 2 {
  const dx = Math.abs(stroke.toMm[0] - stroke.fromMm[0]);
  const dy = Math.abs(stroke.toMm[1] - stroke.fromMm[1]);
  if (dx + dy === 0) return 2;
  if (dx <= AXIS_SLOPE * dy) return 0;
  return dy <= AXIS_SLOPE * dx ? 1 : 2;
}

function endsOf(
  strokes: readonly Stroke[],
  family: 0 | 1,
  lines: Float64Array,
): readonly [number, number] {
  const [first, last] = [lines[0], lines[lines.length - 1]];
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const stroke of strokes) {
    const at = (stroke.fromMm[family] + stroke.toMm[family]) / 2;
    // Single marks beside the grid are no lines of it.
    if (strokeFamily(stroke) !== family || at < first || at > last) continue;
    const ends = [stroke.fromMm[1 - family], stroke.toMm[1 - family]];
    low = Math.min(low, ...ends);
    high = Math.max(high, ...ends);
  }
  return [low, high];
}

function linePositions(strokes: readonly Stroke[], family: 0 | 1): Float64Array {
  const marked = strokes
    .filter((stroke) => strokeFamily(stroke) === family)
    .map((stroke) => ({
      at: (stroke.fromMm[family] + stroke.toMm[family]) / 2,
      length: Math.abs(stroke.toMm[1 - family] - stroke.fromMm[1 - family]),
    }))
    .sort((a, b) => a.at - b.at);
  if (marked.length === 0) return new Float64Array(0);
  const span = marked[marked.length - 1].at - marked[0].at;
  const main = mainLines(marked, span * 1e-4);
  if (main.length < 3) return Float64Array.from(main.map((line) => line.at));
  // Two strokes side by side (a witness pair) are one line for the search.
  const gap = medianGap(Float64Array.from(main.map((line) => line.at)));
  return Float64Array.from(mainLines(main, 0.2 * gap).map((line) => line.at));
}

function mainLines(
  marked: readonly { at: number; length: number }[],
  tolerance: number,
): { at: number; length: number }[] {
  const lines: { at: number; length: number }[] = [];
  for (const { at, length } of marked) {
    const last = lines[lines.length - 1];
    if (last !== undefined && at - last.at <= tolerance) {
      const total = last.length + length;
      last.at = total > 0 ? (last.at * last.length + at * length) / total : at;
      last.length = total;
    } else lines.push({ at, length });
  }
  const longest = Math.max(...lines.map((line) => line.length));
  return lines.filter((line) => line.length >= MAIN_SHARE * longest);
}

function medianGap(positions: Float64Array): number {
  const gaps = Float64Array.from(positions.subarray(1), (at, i) => at - positions[i]).sort();
  return gaps.length === 0 ? 0 : gaps[gaps.length >> 1];
}

function cutStroke(
  stroke: Stroke,
  xs: Float64Array,
  ys: Float64Array,
  pitchMm: readonly [number, number],
  units: MarkUnit[],
): void {
  const [x1, y1] = stroke.fromMm;
  const [x2, y2] = stroke.toMm;
  const length = Math.hypot(x2 - x1, y2 - y1);
  if (length === 0) return;
  const axis = strokeFamily(stroke);
  const own = axis === 0 ? xs : ys;
  const cross = axis === 0 ? ys : xs;
  const at = axis === 2 ? 0 : (stroke.fromMm[axis] + stroke.toMm[axis]) / 2;
  const line = axis === 2 ? -1 : own.findIndex((p) => Math.abs(p - at) < 0.2 * pitchMm[axis]);
  const family = line < 0 ? 2 : axis;
  const cuts = [0, 1];
  if (family !== 2) {
    const from = stroke.fromMm[1 - family];
    const along = stroke.toMm[1 - family] - from;
    for (const p of cross) {
      const share = (p - from) / along;
      if (share > 0.001 && share < 0.999) cuts.push(share);
    }
    cuts.sort((a, b) => a - b);
  }
  // Few long cells are cut further: about twenty units per line let a bend and a cover show.
  const parts =
    family === 2
      ? Math.max(1, Math.round(length / (0.5 * Math.min(...pitchMm))))
      : Math.max(1, Math.round(20 / (cross.length - 1)));
  for (let c = 1; c < cuts.length; c++) {
    for (let k = 0; k < parts; k++) {
      const a = cuts[c - 1] + ((cuts[c] - cuts[c - 1]) * k) / parts;
      const b = cuts[c - 1] + ((cuts[c] - cuts[c - 1]) * (k + 1)) / parts;
      const short = (b - a) * length < 0.2 * Math.min(...pitchMm) && family !== 2;
      if (short && parts === 1) continue;
      units.push({
        x1: x1 + (x2 - x1) * a,
        y1: y1 + (y2 - y1) * a,
        x2: x1 + (x2 - x1) * b,
        y2: y1 + (y2 - y1) * b,
        family,
        line: family === 2 ? -1 : line,
      });
    }
  }
}
