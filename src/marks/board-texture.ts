/**
 * The bare board between the marks of an even grid, as a raster in cells: grain, stains and scratches lie on
 * the same places of the board in every photo, however it was taken.
 */

import type { Stroke } from '../../shared/stroke.js';
import { median } from '../numerics/index.js';
import type { GreyImage } from '../quantity/index.js';
import { type ImageMap, imageFromCommanded, isBelieved, scaledMap } from './image-map.js';
import { compose, evenCore } from './placement-turns.js';
import { describeGrid } from './program-grid.js';
import { reduceImage } from './reduce-image.js';

/** A lattice seen in a photo, whether or not it is known which part of the program it is. */
export interface CellView {
  /** Cells → sensor px of the full-size photo; crossings at whole numbers, second axis to the left of the first. */
  readonly map: ImageMap;
  /** Cells inside the picture, [column, row] of their lower corner. */
  readonly cells: readonly (readonly [number, number])[];
}

export interface BoardTexture {
  /** Cell of the first sample. */
  readonly firstCell: readonly [number, number];
  readonly columns: number;
  readonly rows: number;
  /**
   * rows·SAMPLES × columns·SAMPLES; log of the grey against its surroundings, NaN where it is not seen and
   * where the grid's own marks lie.
   */
  readonly values: Float32Array;
}

/** Samples per cell each way: even, so that half a cell is a whole number of them. */
export const SAMPLES = 16;
/** Samples next to a line, on either side, that the mark and its burnt rim may reach. */
const MARK_RIM = 2;
/** Longest side of the picture that is sampled: noise averaged away, cells of 40 lines still wide. */
const SIDE_PX = 2000;
/** Looks per sample each way. */
const LOOKS = 2;
/** Light changes slowly: what is left against the mean within so many samples either way is the board's. */
const AROUND = 6;
/** Shadows' edges and things on the board count no more than a stain; robust scatters. */
const CLIP = 2.5;

/** The cells of the program that a placement puts into the picture; undefined where its grid is not even. */
export function viewOfPlacement(
  strokes: readonly Stroke[],
  map: ImageMap,
  { widthPx, heightPx }: { readonly widthPx: number; readonly heightPx: number },
): CellView | undefined {
  const grid = describeGrid(strokes);
  const core = grid && evenCore(grid);
  if (core === undefined) return undefined;
  const { xs, ys, pitchMm } = core;
  const cellMap = compose(map, [pitchMm[0], 0, xs[0], 0, pitchMm[1], ys[0]]);
  const isInside = (a: number, b: number) => {
    if (!isBelieved(cellMap, a, b)) return false;
    const [u, v] = imageFromCommanded(cellMap, a, b);
    return u >= 0 && v >= 0 && u <= widthPx - 1 && v <= heightPx - 1;
  };
  const cells: [number, number][] = [];
  for (let a = 0; a + 1 < xs.length; a++) {
    for (let b = 0; b + 1 < ys.length; b++) {
      const corners = [0, 1].flatMap((i) => [0, 1].map((j) => isInside(a + i, b + j)));
      if (corners.every(Boolean)) cells.push([a, b]);
    }
  }
  return cells.length === 0 ? undefined : { map: cellMap, cells };
}

/** @param view with at least one cell. */
export function boardTexture(grey: GreyImage, view: CellView): BoardTexture {
  const picture = reduceImage(grey, SIDE_PX);
  const map = scaledMap(view.map, 1 / picture.factor);
  const spans = [0, 1].map((axis) => {
    const all = view.cells.map((cell) => cell[axis]);
    return [Math.min(...all), Math.max(...all)] as const;
  });
  const firstCell = [spans[0][0], spans[1][0]] as const;
  const columns = spans[0][1] - spans[0][0] + 1;
  const rows = spans[1][1] - spans[1][0] + 1;
  const across = columns * SAMPLES;
  const values = new Float32Array(across * rows * SAMPLES).fill(Number.NaN);
  for (const [a, b] of view.cells) {
    for (let k = MARK_RIM; k < SAMPLES - MARK_RIM; k++) {
      for (let m = MARK_RIM; m < SAMPLES - MARK_RIM; m++) {
        let sum = 0;
        for (let look = 0; look < LOOKS * LOOKS; look++) {
          const x = a + (m + ((look % LOOKS) + 0.5) / LOOKS) / SAMPLES;
          const y = b + (k + (Math.floor(look / LOOKS) + 0.5) / LOOKS) / SAMPLES;
          const [u, v] = imageFromCommanded(map, x, y).map(Math.round);
          sum += picture.data[v * picture.width + u] ?? Number.NaN;
        }
        const at = ((b - firstCell[1]) * SAMPLES + k) * across + (a - firstCell[0]) * SAMPLES + m;
        values[at] = Math.log(1 + sum / (LOOKS * LOOKS));
      }
    }
  }
  return { firstCell, columns, rows, values: onlyBoard(values, across) };
}

/**
 * Less the mean of the surroundings, clipped; and once more, because the edge of a shadow is many times stronger
 * than grain and leaves its trace as far as the surroundings reach.
 */
function onlyBoard(values: Float32Array, across: number): Float32Array {
  return clipped(againstSurroundings(clipped(againstSurroundings(values, across)), across));
}

function clipped(values: Float32Array): Float32Array {
  const thinned = [...values].filter((value, i) => i % 7 === 0 && !Number.isNaN(value));
  const limit = CLIP * 1.4826 * median(thinned.map(Math.abs));
  return values.map((value) => Math.max(-limit, Math.min(limit, value)));
}

function againstSurroundings(values: Float32Array, across: number): Float32Array {
  const height = values.length / across;
  const wide = across + 1;
  const sums = new Float64Array(wide * (height + 1));
  const counts = new Int32Array(wide * (height + 1));
  for (let k = 0; k < height; k++) {
    let [sum, count] = [0, 0];
    for (let m = 0; m < across; m++) {
      const value = values[k * across + m];
      if (!Number.isNaN(value)) {
        sum += value;
        count++;
      }
      sums[(k + 1) * wide + m + 1] = sums[k * wide + m + 1] + sum;
      counts[(k + 1) * wide + m + 1] = counts[k * wide + m + 1] + count;
    }
  }
  return values.map((value, at) => {
    if (Number.isNaN(value)) return value;
    const k = Math.floor(at / across);
    const m = at - k * across;
    const [k0, k1] = [Math.max(0, k - AROUND), Math.min(height, k + AROUND + 1)];
    const [m0, m1] = [Math.max(0, m - AROUND), Math.min(across, m + AROUND + 1)];
    const within = (table: Float64Array | Int32Array) =>
      table[k1 * wide + m1] - table[k0 * wide + m1] - table[k1 * wide + m0] + table[k0 * wide + m0];
    return value - within(sums) / within(counts);
  });
}
