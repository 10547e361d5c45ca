/** The look of the bare board: fibres of MDF or grain of plywood, fixed to the board. */

import type { RandomSource } from './random-source.js';

/** `plain`: a coated board of one tone. */
export type BoardMaterial = 'mdf' | 'plywood' | 'plain';

/** Brightness relative to the board's mean tone, on a raster that covers the board. */
export interface BoardTexture {
  readonly columns: number;
  readonly rows: number;
  readonly cellMm: number;
  /** rows×columns, row-major from the lower left corner of the board. */
  readonly factor: Float32Array;
}

/** Finer than a photo's pixel, coarse enough for a board of a square metre. */
const CELL_MM = 0.25;

export function makeBoardTexture(
  material: BoardMaterial,
  widthMm: number,
  heightMm: number,
  random: RandomSource,
): BoardTexture {
  const columns = Math.ceil(widthMm / CELL_MM) + 1;
  const rows = Math.ceil(heightMm / CELL_MM) + 1;
  const factor = new Float32Array(columns * rows).fill(1);
  const texture = { columns, rows, cellMm: CELL_MM, factor };
  if (material === 'mdf') {
    addGrain(texture, random.fork('speckle'), 1, 1, 0.02);
    addGrain(texture, random.fork('flock'), 7, 7, 0.014);
    addGrain(texture, random.fork('cloud'), 160, 160, 0.022);
    addFibres(texture, random.fork('fibres'), 0.045);
  } else if (material === 'plywood') {
    addGrain(texture, random.fork('pores'), 10, 1, 0.022);
    addGrain(texture, random.fork('streaks'), 140, 3, 0.026);
    addGrain(texture, random.fork('bands'), 500, 34, 0.03);
    addGrain(texture, random.fork('cloud'), 260, 200, 0.02);
  }
  return texture;
}

/** Adds smoothed noise, of given reach (cells) along the board's X and Y and given strength. */
function addGrain(
  texture: BoardTexture,
  random: RandomSource,
  reachX: number,
  reachY: number,
  strength: number,
): void {
  const { columns, rows, factor } = texture;
  // Wide patterns are made on a coarser raster and drawn out: the eye sees no difference.
  const stepX = Math.max(1, Math.floor(reachX / 4));
  const stepY = Math.max(1, Math.floor(reachY / 4));
  const coarseColumns = Math.ceil(columns / stepX) + 2;
  const coarseRows = Math.ceil(rows / stepY) + 2;
  let noise = new Float32Array(coarseColumns * coarseRows);
  for (let i = 0; i < noise.length; i++) noise[i] = random.uniform() - 0.5;
  const halfX = Math.round(reachX / stepX / 2);
  const halfY = Math.round(reachY / stepY / 2);
  for (let pass = 0; pass < 2; pass++) {
    noise = runningMean(noise, coarseColumns, coarseRows, halfX, 1, coarseColumns);
    noise = runningMean(noise, coarseRows, coarseColumns, halfY, coarseColumns, 1);
  }
  let square = 0;
  for (const value of noise) square += value * value;
  const scale = strength / Math.sqrt(square / noise.length);
  for (let row = 0; row < rows; row++) {
    const y = row / stepY;
    const low = Math.floor(y);
    const shareY = y - low;
    for (let column = 0; column < columns; column++) {
      const x = column / stepX;
      const left = Math.floor(x);
      const shareX = x - left;
      const at = low * coarseColumns + left;
      const lower = noise[at]! + shareX * (noise[at + 1]! - noise[at]!);
      const above = at + coarseColumns;
      const upper = noise[above]! + shareX * (noise[above + 1]! - noise[above]!);
      factor[row * columns + column]! += scale * (lower + shareY * (upper - lower));
    }
  }
}

/** Mean over 2 half + 1 neighbours along lines of `length` entries, the ends held. */
function runningMean(
  values: Float32Array,
  length: number,
  lines: number,
  half: number,
  step: number,
  lineStep: number,
): Float32Array<ArrayBuffer> {
  const result = new Float32Array(values.length);
  const count = 2 * half + 1;
  for (let line = 0; line < lines; line++) {
    const start = line * lineStep;
    const held = (i: number) => values[start + step * Math.min(length - 1, Math.max(0, i))]!;
    let sum = 0;
    for (let i = -half; i <= half; i++) sum += held(i);
    for (let i = 0; i < length; i++) {
      result[start + step * i] = sum / count;
      sum += held(i + half + 1) - held(i - half);
    }
  }
  return result;
}

/** Short dark and light fibres in all directions. */
function addFibres(texture: BoardTexture, random: RandomSource, strength: number): void {
  const { columns, rows, factor } = texture;
  const fibres = Math.round(columns * rows * 0.004);
  for (let fibre = 0; fibre < fibres; fibre++) {
    const angle = random.between(0, Math.PI);
    const cells = random.between(4, 18);
    const tone = -strength * random.between(-0.5, 1);
    let x = random.between(0, columns);
    let y = random.between(0, rows);
    for (let i = 0; i < cells; i++) {
      x += Math.cos(angle);
      y += Math.sin(angle);
      const column = Math.floor(x);
      const row = Math.floor(y);
      if (column < 0 || row < 0 || column >= columns || row >= rows) break;
      factor[row * columns + column]! += tone;
    }
  }
}
