/** The board and what was commanded on it: by one program, or by two with the board turned between them. */

import type { Stroke } from '../../shared/stroke.js';
import type { PlacementBetween } from '../marks/index.js';
import { LEAST_TURN_RAD } from '../network/index.js';
import {
  type BoardSegment,
  cutStrokes,
  type Grid,
  type GridLine,
  SAME_LINE_MM,
  type StraightMark,
} from '../program/index.js';
import { failed } from '../quantity/index.js';

export interface Board {
  /** What people call the program. */
  readonly name: string;
  readonly strokes: readonly Stroke[];
  readonly grid: Grid;
  readonly segments: readonly BoardSegment[];
  /** Some of the segments, where a verdict is all that is wanted. */
  readonly sample?: readonly BoardSegment[];
  /** What a second program marked. */
  readonly second?: Omit<Board, 'second' | 'between'>;
  /** Where that lies, once a photo has shown it: then the segments keep clear of each other's marks. */
  readonly between?: PlacementBetween;
}

export type TwiceMarked = Board & Required<Pick<Board, 'second'>>;

/** Photos that show the two grids farther apart than this show two boards, or the grid was found elsewhere. */
const SAME_TURN_RAD = 3e-3;
const SAME_PLACE_MM = 2;

/** Refuses a photo in which the second program's marks lie otherwise than in an earlier one. */
export function differsFrom(
  { between: known, name, second }: TwiceMarked,
  between: PlacementBetween,
): ReturnType<typeof failed> | undefined {
  if (known === undefined) return undefined;
  const turn = between.rotationRad - known.rotationRad;
  const off = Math.max(
    ...middlesOf(second.grid).map(([x, y]) => {
      const [a, b] = [between, known].map(({ firstFromSecond }) => mapped(firstFromSecond, [x, y]));
      return Math.hypot(a[0] - b[0], a[1] - b[1]);
    }),
  );
  if (Math.abs(Math.sin(turn)) < SAME_TURN_RAD && Math.cos(turn) > 0 && off < SAME_PLACE_MM) {
    return undefined;
  }
  return failed(
    'GRID_AMBIGUOUS',
    `the marks of ${second.name} lie otherwise against those of ${name} than in the photos before (${off.toFixed(1)} mm off)`,
    {
      hint: 'give photos of one board only, each showing both grids whole',
      figures: { offMm: off, turnRad: turn },
    },
  );
}

/** Cut anew where the marks of each program spoil those of the other; as it is where that was done. */
export function cutTogether(board: TwiceMarked, between: PlacementBetween): TwiceMarked {
  if (board.between !== undefined) return board;
  const { second } = board;
  const there = between.firstFromSecond;
  return {
    ...board,
    segments: cutClear(board, second.strokes, (at) => mapped(there, at)),
    second: {
      ...second,
      segments: cutClear(second, board.strokes, (at) => mappedBack(there, at)),
    },
    between,
  };
}

function cutClear(
  { strokes, grid }: Pick<Board, 'strokes' | 'grid'>,
  others: readonly Stroke[],
  map: (at: readonly [number, number]) => readonly [number, number],
): readonly BoardSegment[] {
  const marks = others.map(
    ({ fromMm, toMm }): StraightMark => ({ fromMm: map(fromMm), toMm: map(toMm) }),
  );
  return cutStrokes(strokes, grid, { others: marks }).segments;
}

type Affine = PlacementBetween['firstFromSecond'];

function mapped([a, b, c, d, e, f]: Affine, [x, y]: readonly [number, number]) {
  return [a * x + b * y + c, d * x + e * y + f] as const;
}

function mappedBack([a, b, c, d, e, f]: Affine, [x, y]: readonly [number, number]) {
  const determinant = a * e - b * d;
  const [u, v] = [x - c, y - f];
  return [(e * u - b * v) / determinant, (a * v - d * u) / determinant] as const;
}

/** The middles of the grid's sides: a turn shows there, and no corner weighs double. */
function middlesOf({ linesAtX, linesAtY }: Grid): (readonly [number, number])[] {
  const [x, y] = [linesAtX, linesAtY].map((lines) => {
    const [from, to] = [lines[0].positionMm, lines[lines.length - 1].positionMm];
    return { from, to, middle: (from + to) / 2 };
  });
  return [
    [x.from, y.middle],
    [x.to, y.middle],
    [x.middle, y.from],
    [x.middle, y.to],
  ];
}

/** Turned by less than this between its programs, or that near a half turn, a board says next to nothing; rad. */
const TELLING_TURN_RAD = (10 * Math.PI) / 180;

/**
 * Whether the board was turned between two programs: then squareness and the ratio of the scales show in one photo
 * of any camera, however it is held.
 */
export function isTurnedEnough({ between }: Pick<Board, 'between'>): boolean {
  return (
    between !== undefined && Math.abs(Math.sin(between.rotationRad)) > Math.sin(TELLING_TURN_RAD)
  );
}

/** Whether a second program marked it in nearly the same position: fresh marks beside old ones. */
export function isMarkedAgain({ between }: Pick<Board, 'between'>): boolean {
  if (between === undefined) return false;
  const { rotationRad } = between;
  return Math.abs(Math.sin(rotationRad)) < Math.sin(LEAST_TURN_RAD) && Math.cos(rotationRad) > 0;
}

/** The positions of the lines of all programs, ascending, each once. */
export function allPositions(
  { grid, second }: Board,
  pick: (grid: Grid) => readonly GridLine[],
): number[] {
  const all = [grid, ...(second === undefined ? [] : [second.grid])]
    .flatMap((one) => pick(one).map(({ positionMm }) => positionMm))
    .sort((a, b) => a - b);
  return all.filter((at, i) => i === 0 || at - all[i - 1] > SAME_LINE_MM);
}

/** Index of a position in such a list; -1: not in it. */
export function indexOfPosition(positions: readonly number[], at: number): number {
  return positions.findIndex((one) => Math.abs(one - at) <= SAME_LINE_MM);
}
