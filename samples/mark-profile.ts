/**
 * The marks as they really lie on the board: each stroke a strip whose two edges wander, fixed to the
 * board, and an index that tells which strokes pass near a place.
 */

import type { Stroke } from '../shared/stroke.js';
import { landedPosition, type MachineErrors } from './machine-errors.js';
import type { RandomSource } from './random-source.js';
import type { SecondMarking } from './scene.js';

export type MarkKind = 'burnt' | 'groove' | 'chalk';

export interface MarkStyle {
  readonly kind: MarkKind;
  readonly widthMm: number;
  /** Standard deviation of each edge about its line; mm. The centre wanders by this over sqrt 2. */
  readonly edgeWanderMm: number;
  /** Distance over which an edge keeps its deviation; mm. */
  readonly wanderLengthMm: number;
  /** Softness of the edge itself (standard deviation); mm. */
  readonly edgeSoftnessMm: number;
  /** 0 to 1: how much of the board's tone the mark takes away (burnt), or its walls' contrast. */
  readonly strength: number;
  /** Scorched fringe beside a burnt mark: strength 0 to 1 and reach (standard deviation, mm). */
  readonly haloStrength: number;
  readonly haloMm: number;
  /** Relative standard deviation of the strength along the mark. */
  readonly unevenness: number;
  /** How much wider the burn is where it starts and ends; mm. */
  readonly endBurnMm: number;
}

/** One stroke on the board. Along: from its start; across: to the left of its direction. */
export interface BoardMark {
  readonly startMm: readonly [number, number];
  readonly direction: readonly [number, number];
  readonly lengthMm: number;
  /** Entries per sample along the mark: left edge, right edge (mm across), strength, halo. */
  readonly samples: Float32Array;
  readonly sampleCount: number;
}

export interface MarkIndex {
  readonly style: MarkStyle;
  readonly marks: readonly BoardMark[];
  readonly originMm: readonly [number, number];
  readonly columns: number;
  readonly rows: number;
  /** Cell c holds the marks list[first[c]] to list[first[c + 1] - 1]. */
  readonly first: Int32Array;
  readonly list: Int32Array;
}

/** Along the mark the edges are given at this spacing; they change over some millimetres. */
export const SAMPLE_MM = 0.25;
/** Size of the index's cells; a board of a square metre has a million. */
export const INDEX_CELL_MM = 1;
/** Samples that continue beyond both ends, so that the ends need no special case. */
export const PAD_SAMPLES = 8;
const VALUES = 4;

/**
 * Lays the strokes on the board and indexes them.
 *
 * @param boundsMm region in which marks are looked up: [X min, Y min, X max, Y max].
 * @param second marks made once more after the board was turned under the machine.
 */
export function makeMarks(
  strokes: readonly Stroke[],
  errors: MachineErrors,
  style: MarkStyle,
  boundsMm: readonly [number, number, number, number],
  random: RandomSource,
  second?: SecondMarking,
): MarkIndex {
  const lay = (all: readonly Stroke[], label: string, place?: PlaceOnBoard) => {
    const last = Math.max(1, all.length - 1);
    return all.map((stroke, i) =>
      makeMark(stroke, i / last, errors, style, random.fork(`${label} ${stroke.id}`), place),
    );
  };
  const marks = [
    ...lay(strokes, 'mark'),
    ...(second === undefined ? [] : lay(second.strokes, 'second mark', placeOnBoard(second))),
  ];
  const reachMm = style.widthMm / 2 + style.endBurnMm + 3.2 * style.haloMm + 1.2;
  const columns = Math.ceil((boundsMm[2] - boundsMm[0]) / INDEX_CELL_MM) + 1;
  const rows = Math.ceil((boundsMm[3] - boundsMm[1]) / INDEX_CELL_MM) + 1;
  const cellsOf = marks.map((mark) => nearCells(mark, reachMm, boundsMm, columns, rows));
  const first = new Int32Array(columns * rows + 1);
  for (const cells of cellsOf) for (const cell of cells) first[cell + 1]!++;
  for (let cell = 0; cell < columns * rows; cell++) first[cell + 1]! += first[cell]!;
  const list = new Int32Array(first[columns * rows]!);
  const filled = first.slice();
  cellsOf.forEach((cells, mark) => {
    for (const cell of cells) list[filled[cell]!++] = mark;
  });
  return { style, marks, originMm: [boundsMm[0], boundsMm[1]], columns, rows, first, list };
}

/** Where the machine's own frame lay on the board. */
type PlaceOnBoard = (landedMm: readonly [number, number]) => [number, number];

/** Board position of what landed at a place of the machine's frame, the board lying turned under it. */
export function placeOnBoard({
  rotationRad,
  shiftMm,
}: Pick<SecondMarking, 'rotationRad' | 'shiftMm'>): PlaceOnBoard {
  const [cos, sin] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  return ([x, y]) => [cos * x - sin * y + shiftMm[0], sin * x + cos * y + shiftMm[1]];
}

function makeMark(
  stroke: Stroke,
  elapsed: number,
  errors: MachineErrors,
  style: MarkStyle,
  random: RandomSource,
  place: PlaceOnBoard = ([x, y]) => [x, y],
): BoardMark {
  const { approachX, approachY } = stroke;
  const [fromX, fromY] = stroke.fromMm;
  const [toX, toY] = stroke.toMm;
  const landed = (share: number) =>
    place(
      landedPosition(
        errors,
        fromX + share * (toX - fromX),
        fromY + share * (toY - fromY),
        approachX,
        approachY,
        elapsed,
      ),
    );
  const start = landed(0);
  const end = landed(1);
  const lengthMm = Math.hypot(end[0] - start[0], end[1] - start[1]);
  const direction: [number, number] =
    lengthMm > 0 ? [(end[0] - start[0]) / lengthMm, (end[1] - start[1]) / lengthMm] : [1, 0];
  const sampleCount = Math.ceil(lengthMm / SAMPLE_MM) + 1 + 2 * PAD_SAMPLES;
  const wander = (label: string, reachMm: number) =>
    correlatedSeries(sampleCount, reachMm / SAMPLE_MM, random.fork(label));
  const left = wander('left', style.wanderLengthMm);
  const right = wander('right', style.wanderLengthMm);
  const slow = wander('slow', 25);
  const quick = wander('quick', 2);
  const fringe = wander('fringe', 8);
  const samples = new Float32Array(VALUES * sampleCount);
  for (let i = 0; i < sampleCount; i++) {
    const along = (i - PAD_SAMPLES) * SAMPLE_MM;
    const [x, y] = landed(lengthMm > 0 ? along / lengthMm : 0);
    const centre = -(x - start[0]) * direction[1] + (y - start[1]) * direction[0];
    const fromEnd = Math.max(0, Math.min(along, lengthMm - along));
    const burn = style.endBurnMm * Math.exp(-((fromEnd / 0.7) ** 2));
    const half = style.widthMm / 2 + burn;
    const uneven = 1 + style.unevenness * (0.75 * slow[i]! + 0.65 * quick[i]!);
    samples[VALUES * i] = centre + half + style.edgeWanderMm * left[i]!;
    samples[VALUES * i + 1] = centre - half + style.edgeWanderMm * right[i]!;
    samples[VALUES * i + 2] = Math.min(1, Math.max(0.1, style.strength * uneven));
    samples[VALUES * i + 3] =
      style.haloStrength * Math.max(0.1, 1 + 0.3 * fringe[i]!) * (1 + burn / style.widthMm);
  }
  return { startMm: start, direction, lengthMm, samples, sampleCount };
}

/** Normal values whose correlation falls by 1/e over `reach` entries, smoothed over a few. */
function correlatedSeries(count: number, reach: number, random: RandomSource): Float64Array {
  const keep = Math.exp(-1 / reach);
  const renew = Math.sqrt(1 - keep * keep);
  const raw = new Float64Array(count + 4);
  raw[0] = random.normal();
  for (let i = 1; i < raw.length; i++) raw[i] = keep * raw[i - 1]! + renew * random.normal();
  const weights = [1, 4, 6, 4, 1];
  // Variance of the smoothed series, so that it can be brought back to 1.
  let variance = 0;
  for (let a = 0; a < 5; a++)
    for (let b = 0; b < 5; b++) variance += weights[a]! * weights[b]! * keep ** Math.abs(a - b);
  const scale = 1 / Math.sqrt(variance);
  return Float64Array.from({ length: count }, (_, i) => {
    let sum = 0;
    for (let a = 0; a < 5; a++) sum += weights[a]! * raw[i + a]!;
    return scale * sum;
  });
}

function nearCells(
  mark: BoardMark,
  reachMm: number,
  boundsMm: readonly [number, number, number, number],
  columns: number,
  rows: number,
): number[] {
  const cells: number[] = [];
  const [startX, startY] = mark.startMm;
  const [alongX, alongY] = mark.direction;
  const endX = startX + mark.lengthMm * alongX;
  const endY = startY + mark.lengthMm * alongY;
  const cellAt = (position: number, origin: number, count: number) =>
    Math.min(count - 1, Math.max(0, Math.floor((position - origin) / INDEX_CELL_MM)));
  const firstColumn = cellAt(Math.min(startX, endX) - reachMm, boundsMm[0], columns);
  const lastColumn = cellAt(Math.max(startX, endX) + reachMm, boundsMm[0], columns);
  const firstRow = cellAt(Math.min(startY, endY) - reachMm, boundsMm[1], rows);
  const lastRow = cellAt(Math.max(startY, endY) + reachMm, boundsMm[1], rows);
  const margin = reachMm + INDEX_CELL_MM * Math.SQRT1_2;
  for (let row = firstRow; row <= lastRow; row++) {
    for (let column = firstColumn; column <= lastColumn; column++) {
      const x = boundsMm[0] + (column + 0.5) * INDEX_CELL_MM - startX;
      const y = boundsMm[1] + (row + 0.5) * INDEX_CELL_MM - startY;
      const along = x * alongX + y * alongY;
      const across = -x * alongY + y * alongX;
      if (Math.abs(across) > margin || along < -margin || along > mark.lengthMm + margin) continue;
      cells.push(row * columns + column);
    }
  }
  return cells;
}
