/** The evenly spaced lattice in view, whatever part of a grid it is: counted from one of its own crossings. */

import { type CombMatch, matchComb } from './comb-row.js';
import type { PencilPair } from './find-pencils.js';
import { type ImageMap, imageFromCommanded, isBelieved } from './image-map.js';
import { keepsToLines, whyNoLattice } from './judge-placement.js';
import { type Evidence, weighPlacement } from './lattice-evidence.js';
import type { Sight } from './probe-unit.js';
import { type MarkUnit, MIDWAY, type ProgramGrid } from './program-grid.js';
import { isUnmirrored, mapOf, profileOf, vanishingLine } from './propose-placements.js';
import type { ReducedImage } from './reduce-image.js';
import { EXACT, fitToMarks, frameOf, NARROW_WINDOWS, WIDE_WINDOWS } from './search-placement.js';
import { USUAL_RATES } from './tally.js';

export interface LocalLattice {
  /** Cells → px of the reduced picture: crossings lie at whole numbers, the second axis to the left of the first. */
  readonly map: ImageMap;
  /** Of the lines that the search started from. */
  readonly evidence: Evidence;
  /** Cells that lie inside the picture with all four corners, [column, row] of their lower corner. */
  readonly cells: readonly (readonly [number, number])[];
}

/** Lines per family that the first fit uses; a few more do not make it better, only slower. */
const MOST_LINES = 40;
/** A photo shows no more lines than this; beyond them only a folded map goes on. */
const MOST_CELLS = 120;
/** Crossings nearer to the picture's edge than this are not looked at; px. */
const MARGIN_PX = 4;
/** Marks looked at per fit. */
const MOST_UNITS = 2000;
/** Proposals fitted after a quick look at some of their marks, in a window wide enough for a first map. */
const FITTED = 4;
const QUICK_UNITS = 250;
const QUICK_WINDOW = 0.25;

/** @returns the lattice with the most evidence; undefined where the families make none. */
export function findLocalLattice(
  sight: Sight,
  picture: ReducedImage,
  pairs: readonly PencilPair[],
): LocalLattice | undefined {
  let best: LocalLattice | undefined;
  let most = 0;
  const proposals = pairs
    .flatMap((pair) => proposeLattices(pair, picture))
    .map(({ map, columns, rows }) => {
      const grid = cellGrid(listCells(columns, rows));
      const quick = weighPlacement(sight, map, grid, QUICK_WINDOW, USUAL_RATES, QUICK_UNITS);
      return { map, grid, merit: meritOf(quick, grid) };
    })
    .sort((a, b) => b.merit - a.merit)
    .slice(0, FITTED);
  for (const { map, grid } of proposals) {
    const fitted = fitLattice(sight, map, grid, WIDE_WINDOWS);
    if (fitted === undefined) continue;
    const merit = meritOf(fitted.evidence, grid);
    if (best !== undefined && merit <= most) continue;
    most = merit;
    best = { ...fitted, cells: [] };
  }
  if (best === undefined) return undefined;
  // The lines at the border fix what lies beyond the first ones.
  const cells = cellsInPicture(best.map, picture);
  if (cells.length === 0) return undefined;
  const wide = fitLattice(sight, best.map, cellGrid(cells), NARROW_WINDOWS);
  const map = wide?.map ?? best.map;
  return { map, evidence: best.evidence, cells: cellsInPicture(map, picture) };
}

interface Proposal {
  readonly map: ImageMap;
  readonly columns: number;
  readonly rows: number;
}

function proposeLattices(pair: PencilPair, picture: ReducedImage): Proposal[] {
  const frame = frameOf(picture);
  const pencils = [pair.first, pair.second];
  const horizon = vanishingLine(pair.first, pair.second);
  const [across, along] = pencils.map((pencil, f) =>
    matchComb(profileOf(pair.places[f], pencil, horizon, pair.kappa, frame.radiusPx)),
  );
  const proposals: Proposal[] = [];
  for (const x of across) {
    for (const y of along) {
      const turned: CombMatch = {
        ...y,
        scale: -y.scale,
        offset: y.offset + y.scale * (y.teeth - 1),
      };
      for (const row of [y, turned]) {
        const map = mapOf(pencils, horizon, pair.kappa, frame, false, x, row);
        const lines = { xs: [0, x.teeth - 1], ys: [0, y.teeth - 1] };
        if (map !== undefined && isUnmirrored(map, lines)) {
          proposals.push({
            map,
            columns: Math.min(MOST_LINES, x.teeth) - 1,
            rows: Math.min(MOST_LINES, y.teeth) - 1,
          });
        }
      }
    }
  }
  return proposals;
}

function fitLattice(
  sight: Sight,
  start: ImageMap,
  grid: ProgramGrid,
  windows: readonly number[],
): { map: ImageMap; evidence: Evidence } | undefined {
  const map = fitToMarks(sight, grid, start, windows, MOST_UNITS);
  if (map === undefined) return undefined;
  const evidence = weighPlacement(sight, map, grid, EXACT, USUAL_RATES, MOST_UNITS);
  if (whyNoLattice(evidence) !== undefined || !keepsToLines(map, grid, evidence)) return undefined;
  return { map, evidence };
}

/**
 * Log odds of the family that shows less: among dense lines that are none some marks always lie, and
 * the other family must not make up for them.
 */
function meritOf({ familyShare, betweenShare }: Evidence, grid: ProgramGrid): number {
  const { on, off } = USUAL_RATES;
  const odds = familyShare.map((share, f) => {
    const seen = share - betweenShare[f];
    const count = grid.units.filter((unit) => unit.family === f).length;
    return count * (seen * Math.log(on / off) + (1 - seen) * Math.log((1 - on) / (1 - off)));
  });
  return Math.min(...odds);
}

function listCells(columns: number, rows: number): [number, number][] {
  const cells: [number, number][] = [];
  for (let a = 0; a < columns; a++) for (let b = 0; b < rows; b++) cells.push([a, b]);
  return cells;
}

/** Lines through whole numbers, with the edges of the given cells as their marks. */
function cellGrid(cells: readonly (readonly [number, number])[]): ProgramGrid {
  const range = (k: 0 | 1) => {
    const all = cells.map((cell) => cell[k]);
    const low = Math.min(...all);
    return Float64Array.from({ length: Math.max(...all) + 2 - low }, (_, i) => low + i);
  };
  const xs = range(0);
  const ys = range(1);
  const units = new Map<string, MarkUnit>();
  for (const [a, b] of cells) {
    for (const step of [0, 1]) {
      units.set(`y ${a + step} ${b}`, {
        x1: a + step,
        y1: b,
        x2: a + step,
        y2: b + 1,
        family: 0,
        line: a + step - xs[0],
      });
      units.set(`x ${a} ${b + step}`, {
        x1: a,
        y1: b + step,
        x2: a + 1,
        y2: b + step,
        family: 1,
        line: b + step - ys[0],
      });
    }
  }
  const endsMm = [
    [ys[0], ys[ys.length - 1]],
    [xs[0], xs[xs.length - 1]],
  ] as const;
  return { xs, ys, units: [...units.values()], pitchMm: [1, 1], endsMm, freeShare: MIDWAY };
}

/** Grown from cell to cell, so that a map that folds back far outside adds none. */
function cellsInPicture(map: ImageMap, picture: ReducedImage): [number, number][] {
  const isInside = (a: number, b: number) => {
    if (!isBelieved(map, a, b)) return false;
    const [u, v] = imageFromCommanded(map, a, b);
    return (
      u >= MARGIN_PX &&
      v >= MARGIN_PX &&
      u < picture.width - MARGIN_PX &&
      v < picture.height - MARGIN_PX
    );
  };
  const isCellInside = (a: number, b: number) =>
    isInside(a, b) && isInside(a + 1, b) && isInside(a, b + 1) && isInside(a + 1, b + 1);
  const reached = new Map<string, [number, number]>();
  const queue: [number, number][] = [];
  const visit = (a: number, b: number) => {
    const key = `${a} ${b}`;
    if (Math.abs(a) > MOST_CELLS || Math.abs(b) > MOST_CELLS || reached.has(key)) return;
    if (!isCellInside(a, b)) return;
    reached.set(key, [a, b]);
    queue.push([a, b]);
  };
  // The first lines counted from lie in the picture, though perhaps not the very first crossing.
  for (let a = 0; a < MOST_LINES && queue.length === 0; a++) {
    for (let b = 0; b < MOST_LINES && queue.length === 0; b++) visit(a, b);
  }
  for (let next = queue.pop(); next !== undefined; next = queue.pop()) {
    const [a, b] = next;
    visit(a + 1, b);
    visit(a - 1, b);
    visit(a, b + 1);
    visit(a, b - 1);
  }
  return [...reached.values()];
}
