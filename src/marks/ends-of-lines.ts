/**
 * Where the lines of one family begin and end says where the outer lines of the other are: enough to place
 * those when they cannot be seen themselves.
 */

import { median } from '../numerics/index.js';
import type { ImageMap } from './image-map.js';
import { curvatureOn, type Sight } from './probe-unit.js';
import { bitOfLine, type ProgramGrid } from './program-grid.js';

/** Lines may reach this far outside the first map's grid; share of its span. */
const MARGIN = 0.35;
/** Pieces of a gap in which lines are looked for. */
const PIECES = 4;
/** A single line may end this far from where they all do; gaps. A first map may be off by some. */
const ASTRAY = 3;

/**
 * The map changed so that the outer lines of the other family lie at these ends, and the outer lines of
 * this one stay where they are.
 *
 * @param placed family whose lines the map has in the right places.
 * @returns undefined where they do not show.
 */
export function mapToEnds(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  placed: 0 | 1,
): ImageMap | undefined {
  const own = placed === 0 ? grid.xs : grid.ys;
  const along = placed === 0 ? grid.ys : grid.xs;
  const [low, high] = [along[0], along[along.length - 1]];
  const piece = (high - low) / (along.length - 1) / PIECES;
  const from = low - MARGIN * (high - low);
  const count = Math.ceil(((1 + 2 * MARGIN) * (high - low)) / piece);
  const shown = Array.from(own, (at) =>
    Array.from({ length: count }, (_, b) =>
      curvatureOn(sight, map, bitOfLine(placed, at, from + b * piece, from + (b + 1) * piece)),
    ),
  );
  const all = Array.from({ length: count }, (_, b) => {
    const values = shown.map((line) => line[b]).filter((value) => value !== undefined);
    return values.length < own.length / 3 ? 0 : values.reduce((a, v) => a + v, 0) / values.length;
  });
  const usual = Float64Array.from(all).sort()[Math.floor(0.7 * count)];
  const run = usual > 0 ? longestRun(all, usual / 2) : undefined;
  if (run === undefined) return undefined;
  const middle = (run[0] + run[1]) >> 1;
  const reach = ASTRAY * PIECES;
  const ends = [-1, 1].map((sense) => {
    const farthest = sense < 0 ? run[0] - reach : run[1] + reach;
    const places = shown.map((line) => {
      const last = endOf(line, middle, sense, farthest, usual / 2);
      return last === undefined ? undefined : from + (sense < 0 ? last : last + 1) * piece;
    });
    return lineThrough(own, places);
  });
  const [lower, upper] = ends;
  if (lower === undefined || upper === undefined) return undefined;
  const [first, last] = [own[0], own[own.length - 1]];
  const corners = [
    [first, lower(first)],
    [last, lower(last)],
    [last, upper(last)],
    [first, upper(first)],
  ] as const;
  return moveCorners(map, grid, placed === 0 ? corners : turnRound(corners));
}

/** First and last index of the longest run above a limit, a gap's width of it hidden at most. */
function longestRun(values: readonly number[], limit: number): [number, number] | undefined {
  let best: [number, number] | undefined;
  let start = 0;
  let last = Number.NEGATIVE_INFINITY;
  for (const [b, value] of values.entries()) {
    if (value < limit) continue;
    if (b - last > PIECES + 1) start = b;
    last = b;
    if (best === undefined || last - start > best[1] - best[0]) best = [start, last];
  }
  return best;
}

/** Index of the last piece of a line outwards: where what exceeds the limit has summed up most. */
function endOf(
  line: readonly (number | undefined)[],
  middle: number,
  sense: number,
  farthest: number,
  limit: number,
): number | undefined {
  let sum = 0;
  let most = 0;
  let end: number | undefined;
  for (let b = middle; sense * (farthest - b) >= 0; b += sense) {
    const value = line[b];
    if (value === undefined) break;
    sum += value - limit;
    if (sum > most) {
      most = sum;
      end = b;
    }
  }
  return end;
}

/**
 * Median of slopes, so that a covered end does not count.
 *
 * Source: P. K. Sen, Estimates of the regression coefficient based on Kendall's tau (1968).
 */
function lineThrough(at: Float64Array, places: readonly (number | undefined)[]) {
  const points = places.flatMap((place, k) => (place === undefined ? [] : [[at[k], place]]));
  if (points.length < 4) return undefined;
  const slopes = points.flatMap(([x, y], i) =>
    points.slice(i + 1).map(([p, q]) => (q - y) / (p - x)),
  );
  const slope = median(slopes);
  const level = median(points.map(([x, y]) => y - slope * x));
  return (x: number) => level + slope * x;
}

type Corners = readonly (readonly [number, number])[];

/** From corners of lines along X, as [y, x], to those of lines along Y in the order of `moveCorners`. */
function turnRound([a, b, c, d]: Corners): Corners {
  return [a, d, c, b].map(([y, x]) => [x, y]);
}

/**
 * The map whose grid's corners lie where the given places of the first map do.
 *
 * Source: P. S. Heckbert, Fundamentals of texture mapping and image warping (1989), section 2.2.3.
 *
 * @param corners for the lower left, lower right, upper right and upper left corner; mm.
 */
export function moveCorners(map: ImageMap, { xs, ys }: ProgramGrid, corners: Corners): ImageMap {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = corners;
  const [dx1, dy1, dx2, dy2] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2];
  const [sx, sy] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3];
  const det = dx1 * dy2 - dy1 * dx2;
  const g = (sx * dy2 - sy * dx2) / det;
  const h = (dx1 * sy - dy1 * sx) / det;
  const square = [
    [x1 - x0 + g * x1, x3 - x0 + h * x3, x0],
    [y1 - y0 + g * y1, y3 - y0 + h * y3, y0],
    [g, h, 1],
  ];
  const [wide, high] = [xs[xs.length - 1] - xs[0], ys[ys.length - 1] - ys[0]];
  const move = square.map(([a, b, c]) => [
    a / wide,
    b / high,
    c - (a * xs[0]) / wide - (b * ys[0]) / high,
  ]);
  const m = map.homography;
  const homography = Float64Array.from({ length: 9 }, (_, i) => {
    const r = 3 * Math.floor(i / 3);
    return m[r] * move[0][i % 3] + m[r + 1] * move[1][i % 3] + m[r + 2] * move[2][i % 3];
  });
  return { ...map, homography: homography.map((value) => value / homography[8]) };
}
