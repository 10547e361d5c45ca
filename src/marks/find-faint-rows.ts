/**
 * Where the lines of a family lie that is fainter than the grain it runs along, once the other family is placed:
 * each place a line could have is looked at over the whole length that the other family spans.
 */

import { type ImageMap, imageFromCommanded } from './image-map.js';
import { WORST_ASPECT } from './judge-placement.js';
import { compose } from './placement-turns.js';
import { curvatureOn, type Sight } from './probe-unit.js';
import { bitOfLine, type ProgramGrid } from './program-grid.js';

/** A map that keeps every line of the other family; only the faint one is moved. */
export interface FaintRows {
  readonly map: ImageMap;
  /** By how much the curvature at its lines exceeds that midway, in standard errors. */
  readonly contrast: number;
}

/** Turns of the lines against the first map; half the outer lines' usual misplacement at their ends each, px. */
const LEANS_PX = [-6, -4, -2, 0, 2, 4, 6];
/** Lines of the other family may reach this far outside the first map's grid; share of its span. */
const MARGIN = 0.35;
/** The outer lines lie this near to where the lines of the other family end; share of the gap. */
const NEAR_END = 0.4;
/** Pieces of a gap in which the other family is looked for. */
const PIECES = 4;
/** Kept, each differing from the others by more than this share of a gap at one end or the other. */
const KEPT = 3;
const DISTINCT = 0.3;

/**
 * All placements of the faint family that leave the other one in place: x' = x, y' = lean·x + scale·y + offset
 * for lines along X, and likewise for lines along Y.
 *
 * @param family the faint one.
 * @returns the most contrasted, best first.
 */
export function findFaintRows(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  family: 0 | 1,
): FaintRows[] {
  const lines = family === 0 ? grid.xs : grid.ys;
  const cross = family === 0 ? grid.ys : grid.xs;
  const n = lines.length;
  const ends = endsOfLines(sight, map, grid, family === 0 ? 1 : 0);
  if (ends === undefined) return [];
  const span = lines[n - 1] - lines[0];
  const near = (NEAR_END * (ends[1] - ends[0])) / (n - 1);
  if (Math.abs(Math.log((ends[1] - ends[0]) / span)) > WORST_ASPECT) return [];
  const step = 1 / scaleAcross(map, grid, family);
  const first = ends[0] - near;
  const bins = Math.ceil((ends[1] + near - first) / step) + 1;
  const length = cross[cross.length - 1] - cross[0];
  const middle = (cross[0] + cross[cross.length - 1]) / 2;
  const found: { lean: number; scale: number; offset: number; contrast: number }[] = [];
  for (const leanPx of LEANS_PX) {
    const lean = (leanPx * step) / (length / 2);
    const profile = Float64Array.from({ length: bins }, (_, b) =>
      meanAlongLine(sight, map, family, cross, first + b * step, lean, middle),
    );
    const deviation = spread(profile);
    if (!(deviation > 0)) continue;
    const error = deviation * Math.sqrt(1 / n + 1 / (n - 1));
    const at = (place: number) => profile[Math.round((place - first) / step)] ?? 0;
    for (let low = ends[0] - near; low <= ends[0] + near; low += step) {
      for (let high = ends[1] - near; high <= ends[1] + near; high += step) {
        const scale = (high - low) / span;
        let own = 0;
        let between = 0;
        for (let k = 0; k < n; k++) own += at(low + scale * (lines[k] - lines[0]));
        for (let k = 1; k < n; k++) {
          between += at(low + scale * ((lines[k - 1] + lines[k]) / 2 - lines[0]));
        }
        const contrast = (own / n - between / (n - 1)) / error;
        found.push({ lean, scale, offset: low - scale * lines[0], contrast });
      }
    }
  }
  found.sort((a, b) => b.contrast - a.contrast);
  const kept: typeof found = [];
  const gap = DISTINCT * grid.pitchMm[family];
  for (const one of found) {
    const isNear = kept.some((other) =>
      [lines[0], lines[n - 1]].every(
        (p) => Math.abs((one.scale - other.scale) * p + one.offset - other.offset) < gap,
      ),
    );
    if (!isNear) kept.push(one);
    if (kept.length === KEPT) break;
  }
  return kept.map(({ lean, scale, offset, contrast }) => ({
    contrast,
    map: compose(
      map,
      family === 0
        ? [scale, lean, offset - lean * middle, 0, 1, 0]
        : [1, 0, 0, lean, scale, offset - lean * middle],
    ),
  }));
}

/** Where the lines of the placed family begin and end, mm along them; undefined where they do not show. */
function endsOfLines(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  placed: 0 | 1,
): readonly [number, number] | undefined {
  const own = placed === 0 ? grid.xs : grid.ys;
  const along = placed === 0 ? grid.ys : grid.xs;
  const [low, high] = [along[0], along[along.length - 1]];
  const piece = grid.pitchMm[1 - placed] / PIECES;
  const from = low - MARGIN * (high - low);
  const count = Math.ceil(((1 + 2 * MARGIN) * (high - low)) / piece);
  const shown = Array.from({ length: count }, (_, b) => {
    const values = Array.from(own, (at) =>
      curvatureOn(sight, map, bitOfLine(placed, at, from + b * piece, from + (b + 1) * piece)),
    ).filter((value) => value !== undefined);
    return values.length < own.length / 3 ? 0 : values.reduce((a, v) => a + v, 0) / values.length;
  });
  const usual = Float64Array.from(shown).sort()[Math.floor(0.7 * count)];
  if (!(usual > 0)) return undefined;
  let best: [number, number] | undefined;
  let start: number | undefined;
  let last = 0;
  // The longest run, a gap's width of it covered at most.
  for (const [b, value] of shown.entries()) {
    if (value < usual / 2) continue;
    if (start === undefined || b - last > PIECES + 1) start = b;
    last = b;
    if (best === undefined || last - start > best[1] - best[0]) best = [start, last];
  }
  return best && [from + best[0] * piece, from + (best[1] + 1) * piece];
}

/** Mean curvature across a line over its whole length; not a number where too little of it is in view. */
function meanAlongLine(
  sight: Sight,
  map: ImageMap,
  family: 0 | 1,
  cross: Float64Array,
  place: number,
  lean: number,
  middle: number,
): number {
  let sum = 0;
  let count = 0;
  for (let k = 0; k + 1 < cross.length; k++) {
    const [from, to] = [cross[k], cross[k + 1]];
    const a = place + lean * (from - middle);
    const b = place + lean * (to - middle);
    const unit =
      family === 0
        ? { x1: a, y1: from, x2: b, y2: to, family, line: -1 }
        : { x1: from, y1: a, x2: to, y2: b, family, line: -1 };
    const value = curvatureOn(sight, map, unit);
    if (value === undefined) continue;
    sum += value;
    count++;
  }
  return count < cross.length / 3 ? 0 : sum / count;
}

function spread(values: Float64Array): number {
  const seen = values.filter((value) => value !== 0);
  const mean = seen.reduce((sum, value) => sum + value, 0) / seen.length;
  const squares = seen.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return Math.sqrt(squares / seen.length);
}

/** Pixels per mm across the family's lines, in the middle of the grid. */
function scaleAcross(map: ImageMap, { xs, ys, pitchMm }: ProgramGrid, family: 0 | 1): number {
  const x = (xs[0] + xs[xs.length - 1]) / 2;
  const y = (ys[0] + ys[ys.length - 1]) / 2;
  const d = pitchMm[family] / 2;
  const [ua, va] = imageFromCommanded(map, x - (family === 0 ? d : 0), y - (family === 1 ? d : 0));
  const [ub, vb] = imageFromCommanded(map, x + (family === 0 ? d : 0), y + (family === 1 ? d : 0));
  return Math.hypot(ub - ua, vb - va) / (2 * d);
}
