/** Where a texture of unknown place lies on one of known place, the other way round perhaps: in whole cells. */

import type { Stroke } from '../../shared/stroke.js';
import { robustSigma } from '../numerics/index.js';
import { type BoardTexture, type CellView, SAMPLES } from './board-texture.js';
import type { QuarterTurns } from './cell-contents.js';
import { imageFromCommanded } from './image-map.js';
import { evenCore } from './placement-turns.js';
import { describeGrid } from './program-grid.js';
import type { StatedCrossing } from './stated-crossing.js';

/** Program cells = lattice cells turned back by the quarter turns, then moved. */
export interface TextureMatch {
  readonly turns: QuarterTurns;
  readonly shift: readonly [number, number];
  /** Correlation of the two textures there; -1..1. */
  readonly likeness: number;
  /** Above every rival and every place between cells; spreads of what chance gives. */
  readonly lead: number;
  /** Above the places around; share of Fisher's z. */
  readonly ahead: number;
  /** True where it is the one place, beyond doubt. */
  readonly clear: boolean;
}

/** Textures share at least so many cells; fewer are too easily alike. */
const LEAST_CELLS = 8;
/** Below this other things than the board made the pictures alike. */
const LEAST_LIKENESS = 0.2;
/**
 * Above the next best, in spreads of the places between cells, where no truth can be. The best of some thousand
 * wrong places lies four spreads up by itself.
 */
const LEAD = 5;
/** Ahead of the cells and half cells around by this share of its z: long streaks are alike a cell further on. */
const AHEAD = 0.1;
/** So many half cells either way. */
const NEAR_HALVES = 4;
/** Less alike a quarter of a cell aside, by this share. */
const DROP = 0.02;
/** A lattice is fitted to a twentieth of a cell: the best place is within one sample of the whole cell. */
const FITTED = 1;
/** Looked at in full after the quick ranking. */
const RANKED = 16;
/** Places between cells that tell how alike chance makes two textures. */
const CHANCES = 200;
/** Samples that the quick look takes. */
const QUICK = 3000;
const TURNS = [0, 1, 2, 3] as const;

/** @returns the best place, clear or not; undefined where too few cells could be shared. */
export function matchTextures(known: BoardTexture, seen: BoardTexture): TextureMatch | undefined {
  const coarseKnown = halved(rasterOf(known));
  const ranked: Place[] = [];
  const chance: Place[] = [];
  const turned = TURNS.map((turns) => turnTexture(seen, turns));
  for (const turns of TURNS) {
    const coarse = halved(rasterOf(turned[turns]));
    const cells = [cellsOf(known), cellsOf(turned[turns])] as const;
    const { columns, rows } = turned[turns];
    for (let i = 1 - columns; i < known.columns; i++) {
      for (let j = 1 - rows; j < known.rows; j++) {
        if (sharedCells(cells[0], cells[1], i, j) < LEAST_CELLS) continue;
        for (const [halfX, halfY] of HALVES) {
          const x = (i + halfX) * SAMPLES;
          const y = (j + halfY) * SAMPLES;
          const { z, samples } = correlate(coarseKnown, coarse, x / 2, y / 2, QUICK);
          const place = { turns, x, y, score: z * Math.sqrt(samples) };
          (halfX + halfY === 0 ? ranked : chance).push(place);
        }
      }
    }
  }
  if (ranked.length === 0) return undefined;
  const full = rasterOf(known);
  const rasters = turned.map(rasterOf);
  const look = ({ turns, x, y }: Place) => {
    const { z, samples } = correlate(full, rasters[turns], x, y, Number.POSITIVE_INFINITY);
    return { turns, x, y, score: z * Math.sqrt(samples), z };
  };
  const stride = Math.max(1, Math.floor(chance.length / CHANCES));
  const spread = robustSigma(
    chance.filter((_, i) => i % stride === 0).map((one) => look(one).score),
  );
  const top = (places: Place[]) => places.sort((a, b) => b.score - a.score).slice(0, RANKED);
  const best = (places: Place[]) =>
    top(places).map((place) =>
      around(place, FITTED)
        .map(look)
        .reduce((a, b) => (b.score > a.score ? b : a)),
    );
  const own = best(ranked).sort((a, b) => b.score - a.score);
  const others = [...own.slice(1), ...best(chance)];
  const [first] = own;
  const next = others.reduce((a, b) => (b.score > a.score ? b : a), { score: 0, z: 0 });
  const zOf = (dx: number, dy: number) => look({ ...first, x: first.x + dx, y: first.y + dy }).z;
  // Cells and half cells around it; then the sub-cell places along each axis.
  const near = Math.max(...ring(NEAR_HALVES, SAMPLES / 2).map(([x, y]) => zOf(x, y)));
  const aside = Math.max(...ring(1, SAMPLES / 4).map(([x, y]) => zOf(x, y)));
  const lead = (first.score - next.score) / spread;
  const drop = (first.z - aside) / first.z;
  const ahead = (first.z - near) / first.z;
  const isPeak = isHighest(zOf, first);
  const origin = turned[first.turns].firstCell;
  const likeness = Math.tanh(first.z);
  return {
    turns: first.turns,
    shift: [
      known.firstCell[0] + Math.round(first.x / SAMPLES) - origin[0],
      known.firstCell[1] + Math.round(first.y / SAMPLES) - origin[1],
    ],
    likeness,
    lead,
    ahead,
    clear: likeness >= LEAST_LIKENESS && lead >= LEAD && ahead >= AHEAD && drop >= DROP && isPeak,
  };
}

/** [x, y] of the lattice → program cells. */
export function moveCell(
  { turns, shift }: Pick<TextureMatch, 'turns' | 'shift'>,
  [a, b]: readonly [number, number],
): [number, number] {
  const [x, y] = turnBack(a, b, turns);
  return [x + shift[0], y + shift[1]];
}

/** Commanded crossings of the lattice under a match, far apart in the view, and where they lie in the photo. */
export function crossingsAt(
  strokes: readonly Stroke[],
  { map, cells }: CellView,
  match: Pick<TextureMatch, 'turns' | 'shift'>,
): StatedCrossing[] {
  const grid = describeGrid(strokes);
  const core = grid && evenCore(grid);
  if (core === undefined) throw new Error('only cells of an even grid have textures');
  const farthest = [
    [1, 1],
    [-1, -1],
    [1, -1],
    [-1, 1],
  ].map(([p, q]) => cells.reduce((a, b) => (p * b[0] + q * b[1] > p * a[0] + q * a[1] ? b : a)));
  return farthest.map(([a, b]) => {
    const [column, row] = moveCell(match, [a, b]);
    const [uPx, vPx] = imageFromCommanded(map, a, b);
    return {
      xMm: core.xs[0] + column * core.pitchMm[0],
      yMm: core.ys[0] + row * core.pitchMm[1],
      uPx,
      vPx,
    };
  });
}

/** Both as they are where only one is seen, the mean where both are; `added` in the same cells. */
export function joinTextures(known: BoardTexture, added: BoardTexture): BoardTexture {
  const low = [0, 1].map((k) => Math.min(known.firstCell[k], added.firstCell[k]));
  const columns =
    Math.max(known.firstCell[0] + known.columns, added.firstCell[0] + added.columns) - low[0];
  const rows = Math.max(known.firstCell[1] + known.rows, added.firstCell[1] + added.rows) - low[1];
  const values = new Float32Array(columns * rows * SAMPLES * SAMPLES).fill(Number.NaN);
  for (const texture of [known, added]) {
    const across = texture.columns * SAMPLES;
    texture.values.forEach((value, from) => {
      if (Number.isNaN(value)) return;
      const m = (from % across) + (texture.firstCell[0] - low[0]) * SAMPLES;
      const k = Math.floor(from / across) + (texture.firstCell[1] - low[1]) * SAMPLES;
      const at = k * columns * SAMPLES + m;
      values[at] = Number.isNaN(values[at]) ? value : (values[at] + value) / 2;
    });
  }
  return { firstCell: [low[0], low[1]], columns, rows, values };
}

interface Place {
  readonly turns: QuarterTurns;
  /** First sample of the turned texture in samples of the known one. */
  readonly x: number;
  readonly y: number;
  readonly score: number;
}

interface Raster {
  readonly across: number;
  readonly height: number;
  readonly values: Float32Array;
}

const HALVES = [
  [0, 0],
  [0.5, 0],
  [0, 0.5],
  [0.5, 0.5],
] as const;

/** R⁻¹ of `turnedCells`. */
function turnBack(x: number, y: number, turns: QuarterTurns): [number, number] {
  if (turns === 0) return [x, y];
  if (turns === 1) return [y, -x];
  return turns === 2 ? [-x, -y] : [-y, x];
}

function turnTexture(texture: BoardTexture, turns: QuarterTurns): BoardTexture {
  const { firstCell, columns, rows, values } = texture;
  const corners = [
    turnBack(firstCell[0], firstCell[1], turns),
    turnBack(firstCell[0] + columns, firstCell[1] + rows, turns),
  ];
  const low = [0, 1].map((k) => Math.min(corners[0][k], corners[1][k]));
  const [wide, high] = turns % 2 === 0 ? [columns, rows] : [rows, columns];
  const result = new Float32Array(values.length);
  const across = columns * SAMPLES;
  values.forEach((value, from) => {
    const x = firstCell[0] * SAMPLES + (from % across) + 0.5;
    const y = firstCell[1] * SAMPLES + Math.floor(from / across) + 0.5;
    const [m, k] = turnBack(x, y, turns);
    result[Math.floor(k - low[1] * SAMPLES) * wide * SAMPLES + Math.floor(m - low[0] * SAMPLES)] =
      value;
  });
  return { firstCell: [low[0], low[1]], columns: wide, rows: high, values: result };
}

function rasterOf({ columns, rows, values }: BoardTexture): Raster {
  return { across: columns * SAMPLES, height: rows * SAMPLES, values };
}

/** Two by two samples made one. */
function halved({ across, height, values }: Raster): Raster {
  const wide = across / 2;
  const result = new Float32Array((wide * height) / 2);
  for (let at = 0; at < result.length; at++) {
    const from = 2 * Math.floor(at / wide) * across + 2 * (at % wide);
    result[at] =
      (values[from] + values[from + 1] + values[from + across] + values[from + across + 1]) / 4;
  }
  return { across: wide, height: height / 2, values: result };
}

interface Cells {
  readonly columns: number;
  readonly rows: number;
  readonly seen: Uint8Array;
}

function cellsOf({ columns, rows, values }: BoardTexture): Cells {
  const seen = new Uint8Array(columns * rows);
  const middle = SAMPLES / 2;
  for (let c = 0; c < columns; c++) {
    for (let r = 0; r < rows; r++) {
      const at = (r * SAMPLES + middle) * columns * SAMPLES + c * SAMPLES + middle;
      seen[r * columns + c] = Number.isNaN(values[at]) ? 0 : 1;
    }
  }
  return { columns, rows, seen };
}

function sharedCells(known: Cells, other: Cells, i: number, j: number): number {
  let count = 0;
  for (let r = Math.max(0, -j); r < Math.min(other.rows, known.rows - j); r++) {
    for (let c = Math.max(0, -i); c < Math.min(other.columns, known.columns - i); c++) {
      count += other.seen[r * other.columns + c] & known.seen[(r + j) * known.columns + c + i];
    }
  }
  return count;
}

/** Fisher's z of the correlation over the shared samples, and how many there are; of a large overlap some rows. */
function correlate(known: Raster, other: Raster, x: number, y: number, most: number) {
  const m0 = Math.max(0, -x);
  const m1 = Math.min(other.across, known.across - x);
  const k0 = Math.max(0, -y);
  const k1 = Math.min(other.height, known.height - y);
  // Odd, so that the rows looked at wander through the cells.
  const step = 2 * Math.floor(Math.max(0, (m1 - m0) * (k1 - k0)) / most / 2) + 1;
  let [n, a, b, aa, bb, ab] = [0, 0, 0, 0, 0, 0];
  for (let k = k0; k < k1; k += step) {
    const from = k * other.across;
    const to = (k + y) * known.across + x;
    for (let m = m0; m < m1; m++) {
      const p = other.values[from + m];
      const q = known.values[to + m];
      const product = p * q;
      // Either is not seen there.
      if (Number.isNaN(product)) continue;
      n++;
      a += p;
      b += q;
      aa += p * p;
      bb += q * q;
      ab += product;
    }
  }
  const spread = (aa - (a * a) / n) * (bb - (b * b) / n);
  if (n < 2 || !(spread > 0)) return { z: 0, samples: n * step };
  const r = (ab - (a * b) / n) / Math.sqrt(spread);
  return { z: Math.atanh(Math.max(-MOST, Math.min(MOST, r))), samples: n * step };
}

/** Two photos are never quite alike. */
const MOST = 0.999;

function around(place: Place, reach: number): Place[] {
  return [[0, 0] as const, ...ring(reach, 1)].map(([dx, dy]) => ({
    ...place,
    x: place.x + dx,
    y: place.y + dy,
  }));
}

/** All places but the middle within so many steps either way. */
function ring(reach: number, step: number): [number, number][] {
  const all: [number, number][] = [];
  for (let i = -reach; i <= reach; i++) {
    for (let j = -reach; j <= reach; j++) if (i !== 0 || j !== 0) all.push([i * step, j * step]);
  }
  return all;
}

/** Along either axis nothing within half a cell is more alike. */
function isHighest(
  zOf: (dx: number, dy: number) => number,
  { z }: { readonly z: number },
): boolean {
  for (let d = FITTED + 2; d <= SAMPLES / 2; d++) {
    if (Math.max(zOf(d, 0), zOf(-d, 0), zOf(0, d), zOf(0, -d)) > z) return false;
  }
  return true;
}
