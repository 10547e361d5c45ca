/** Textures as rasters of samples: turned, joined, made coarser, and laid on one another. */

import { type BoardTexture, SAMPLES } from './board-texture.js';
import type { QuarterTurns } from './cell-contents.js';
import { turnBack } from './move-cells.js';

export interface Raster {
  readonly across: number;
  readonly height: number;
  readonly values: Float32Array;
}

export interface Cells {
  readonly columns: number;
  readonly rows: number;
  readonly seen: Uint8Array;
}

/** Two photos are never quite alike. */
const MOST = 0.999;

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

export function turnTexture(texture: BoardTexture, turns: QuarterTurns): BoardTexture {
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

export function rasterOf({ columns, rows, values }: BoardTexture): Raster {
  return { across: columns * SAMPLES, height: rows * SAMPLES, values };
}

/** Two by two samples made one. */
export function halved({ across, height, values }: Raster): Raster {
  const wide = across / 2;
  const result = new Float32Array((wide * height) / 2);
  for (let at = 0; at < result.length; at++) {
    const from = 2 * Math.floor(at / wide) * across + 2 * (at % wide);
    result[at] =
      (values[from] + values[from + 1] + values[from + across] + values[from + across + 1]) / 4;
  }
  return { across: wide, height: height / 2, values: result };
}

export function cellsOf({ columns, rows, values }: BoardTexture): Cells {
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

export function sharedCells(known: Cells, other: Cells, i: number, j: number): number {
  let count = 0;
  for (let r = Math.max(0, -j); r < Math.min(other.rows, known.rows - j); r++) {
    for (let c = Math.max(0, -i); c < Math.min(other.columns, known.columns - i); c++) {
      count += other.seen[r * other.columns + c] & known.seen[(r + j) * known.columns + c + i];
    }
  }
  return count;
}

/** Fisher's z of the correlation over the shared samples, and how many there are; of a large overlap some rows. */
export function correlate(known: Raster, other: Raster, x: number, y: number, most: number) {
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
