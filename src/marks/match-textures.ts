/** Where a texture of unknown place lies on one of known place, the other way round perhaps: in whole cells. */

import { robustSigma } from '../numerics/index.js';
import { type BoardTexture, SAMPLES } from './board-texture.js';
import type { QuarterTurns } from './cell-contents.js';
import type { CellMove } from './move-cells.js';
import {
  cellsOf,
  correlate,
  halved,
  rasterOf,
  sharedCells,
  turnTexture,
} from './texture-raster.js';

/** How the lattice lies in the program, and how sure that is. */
export interface TextureMatch extends CellMove {
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
  const turned = TURNS.map((turns) => turnTexture(seen, turns));
  const { whole, between } = rankPlaces(known, turned);
  if (whole.length === 0) return undefined;
  const full = rasterOf(known);
  const rasters = turned.map(rasterOf);
  const look = ({ turns, x, y }: Place) => {
    const { z, samples } = correlate(full, rasters[turns], x, y, Number.POSITIVE_INFINITY);
    return { turns, x, y, score: z * Math.sqrt(samples), z };
  };
  const stride = Math.max(1, Math.floor(between.length / CHANCES));
  const spread = robustSigma(
    between.filter((_, i) => i % stride === 0).map((one) => look(one).score),
  );
  const best = (places: readonly Place[]) =>
    highest(places).map((place) =>
      around(place, FITTED)
        .map(look)
        .reduce((a, b) => (b.score > a.score ? b : a)),
    );
  const [first, ...rivals] = best(whole).sort((a, b) => b.score - a.score);
  const next = Math.max(0, ...[...rivals, ...best(between)].map(({ score }) => score));
  const zOf = (dx: number, dy: number) => look({ ...first, x: first.x + dx, y: first.y + dy }).z;
  // Cells and half cells around it; then the sub-cell places along each axis.
  const near = Math.max(...ring(NEAR_HALVES, SAMPLES / 2).map(([x, y]) => zOf(x, y)));
  const aside = Math.max(...ring(1, SAMPLES / 4).map(([x, y]) => zOf(x, y)));
  const lead = (first.score - next) / spread;
  const ahead = (first.z - near) / first.z;
  const drop = (first.z - aside) / first.z;
  const likeness = Math.tanh(first.z);
  const origin = turned[first.turns].firstCell;
  const isPlain = likeness >= LEAST_LIKENESS && lead >= LEAD && ahead >= AHEAD && drop >= DROP;
  return {
    turns: first.turns,
    shift: [
      known.firstCell[0] + Math.round(first.x / SAMPLES) - origin[0],
      known.firstCell[1] + Math.round(first.y / SAMPLES) - origin[1],
    ],
    likeness,
    lead,
    ahead,
    clear: isPlain && isHighest(zOf, first),
  };
}

interface Place {
  readonly turns: QuarterTurns;
  /** First sample of the turned texture in samples of the known one. */
  readonly x: number;
  readonly y: number;
  readonly score: number;
}

const HALVES = [
  [0, 0],
  [0.5, 0],
  [0, 0.5],
  [0.5, 0.5],
] as const;

/**
 * A quick look at all places where enough cells could be shared: at whole cells, and between cells.
 *
 * @param turned by the number of quarter turns.
 */
function rankPlaces(known: BoardTexture, turned: readonly BoardTexture[]) {
  const coarseKnown = halved(rasterOf(known));
  const knownCells = cellsOf(known);
  const whole: Place[] = [];
  const between: Place[] = [];
  for (const turns of TURNS) {
    const texture = turned[turns];
    const coarse = halved(rasterOf(texture));
    const cells = cellsOf(texture);
    for (let i = 1 - texture.columns; i < known.columns; i++) {
      for (let j = 1 - texture.rows; j < known.rows; j++) {
        if (sharedCells(knownCells, cells, i, j) < LEAST_CELLS) continue;
        for (const [halfX, halfY] of HALVES) {
          const x = (i + halfX) * SAMPLES;
          const y = (j + halfY) * SAMPLES;
          const { z, samples } = correlate(coarseKnown, coarse, x / 2, y / 2, QUICK);
          const place = { turns, x, y, score: z * Math.sqrt(samples) };
          (halfX + halfY === 0 ? whole : between).push(place);
        }
      }
    }
  }
  return { whole, between };
}

function highest(places: readonly Place[]): Place[] {
  return [...places].sort((a, b) => b.score - a.score).slice(0, RANKED);
}

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
