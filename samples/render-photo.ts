/**
 * Renders one photo: for every pixel the ray is followed to the board, and what lies there is mixed
 * over the pixel's footprint.
 *
 * The optical blur and the pixel's own area are put into the marks' edges as one Gaussian, in closed
 * form: nothing is drawn on a raster first, so that the marks' places have no raster's error. The
 * rays of a 4 x 4 cell are interpolated between its corners; for lenses up to k1 = -0.1 that is
 * within 0.0004 px.
 */

import { coverMarks, type MarkCover } from './cover-marks.js';
import { coverObject } from './cover-object.js';
import { boardFromPixel, type CameraFrame, cameraFrame } from './pinhole-view.js';
import type { RandomSource } from './random-source.js';
import type { BoardObject, Lighting, PhotoPlan, PreparedBoard } from './scene.js';

const CELL_PX = 4;
/** Variance of a pixel's own width, in px². */
const PIXEL_VARIANCE = 1 / 12;
/** Linear reflectances. */
const CHAR = [0.028, 0.021, 0.017] as const;
const SCORCH = [0.2, 0.105, 0.045] as const;
const CHALK = [0.8, 0.82, 0.84] as const;
/** Contact shadow beside the board, which stands higher than the table; mm. */
const EDGE_SHADOW_MM = 7;
/** Cells of the board's texture per mm of table. */
const TABLE_GRAIN = 2.3;
const SLOT_HALF_MM = 4.1;

/**
 * @returns height×width×3, row-major, sRGB-coded, 8 bits; sensor frame.
 */
export function renderPixels(
  board: PreparedBoard,
  plan: PhotoPlan,
  widthPx: number,
  heightPx: number,
  random: RandomSource,
): Uint8Array {
  const frame = cameraFrame(plan.stand);
  const nodes = traceNodes(board, plan, frame, widthPx, heightPx);
  const tone = toneTable();
  const noise = noiseTable(random);
  const pixels = new Uint8Array(widthPx * heightPx * 3);
  const cover: MarkCover = { burnt: 0, halo: 0, shade: 0, chalk: 0 };
  const colour = new Float64Array(3);
  const columns = Math.ceil(widthPx / CELL_PX) + 1;
  const spread = Math.sqrt(plan.blurPx * plan.blurPx + PIXEL_VARIANCE);
  const objects = plan.objects.map((object) => ({ object, reach: objectReach(object) }));
  const exposure = plan.light.colour.map((factor) => factor * plan.light.exposure);
  const noiseCounts = plan.noiseCounts;
  const last = tone.length - 1;

  for (let v = 0; v < heightPx; v++) {
    const row = Math.floor(v / CELL_PX);
    const shareV = (v - row * CELL_PX) / CELL_PX;
    // Noise starts at a random place in the table in each row, so that it never repeats in step.
    let noiseAt = Math.floor(random.uniform() * NOISE_VALUES);
    for (let column = 0; column * CELL_PX < widthPx; column++) {
      const upper = row * columns + column;
      const lower = upper + columns;
      const leftX = mix(nodes.x[upper]!, nodes.x[lower]!, shareV);
      const rightX = mix(nodes.x[upper + 1]!, nodes.x[lower + 1]!, shareV);
      const leftY = mix(nodes.y[upper]!, nodes.y[lower]!, shareV);
      const rightY = mix(nodes.y[upper + 1]!, nodes.y[lower + 1]!, shareV);
      const leftLight = mix(nodes.light[upper]!, nodes.light[lower]!, shareV);
      const rightLight = mix(nodes.light[upper + 1]!, nodes.light[lower + 1]!, shareV);
      const pixelMm = Math.hypot(rightX - leftX, rightY - leftY) / CELL_PX;
      const spreadMm = spread * pixelMm;
      const end = Math.min(widthPx, (column + 1) * CELL_PX);
      for (let u = column * CELL_PX; u < end; u++) {
        const shareU = (u - column * CELL_PX) / CELL_PX;
        const x = leftX + shareU * (rightX - leftX);
        const y = leftY + shareU * (rightY - leftY);
        const light = leftLight + shareU * (rightLight - leftLight);
        boardColour(board, plan.light, x, y, spreadMm, cover, colour);
        for (const { object, reach } of objects) {
          if (Math.abs(x - object.centreMm[0]) + Math.abs(y - object.centreMm[1]) < reach) {
            coverObject(object, frame, x, y, spreadMm, colour);
          }
        }
        const at = 3 * (v * widthPx + u);
        const common = noise[noiseAt++ & NOISE_MASK]!;
        for (let channel = 0; channel < 3; channel++) {
          const value = colour[channel]! * light * exposure[channel]!;
          const index = value >= 1 ? last : (value * last) | 0;
          const own = noise[(noiseAt + 7919 * channel) & NOISE_MASK]!;
          const counts = tone[index]! + noiseCounts * (0.9 * common + 0.43 * own);
          pixels[at + channel] = counts <= 0 ? 0 : counts >= 255 ? 255 : (counts + 0.5) | 0;
        }
      }
    }
  }
  return pixels;
}

interface Nodes {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly light: Float64Array;
}

/** Where the rays at the cells' corners meet the board, and how much light falls there. */
function traceNodes(
  board: PreparedBoard,
  plan: PhotoPlan,
  frame: CameraFrame,
  widthPx: number,
  heightPx: number,
): Nodes {
  const columns = Math.ceil(widthPx / CELL_PX) + 1;
  const rows = Math.ceil(heightPx / CELL_PX) + 1;
  const x = new Float64Array(columns * rows);
  const y = new Float64Array(columns * rows);
  const light = new Float64Array(columns * rows);
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      const at = row * columns + column;
      const u = column * CELL_PX;
      const v = row * CELL_PX;
      const met = boardFromPixel(plan.lens, frame, board.look.shape, u, v);
      if (!met) throw new RangeError('a photo must look down on the board with its whole frame');
      [x[at], y[at]] = met;
      const fromMiddle = Math.hypot(u - widthPx / 2, v - heightPx / 2);
      const toCorner = fromMiddle / Math.hypot(widthPx / 2, heightPx / 2);
      light[at] =
        lightAt(plan.light, board.look.edgesMm, met[0], met[1]) *
        (1 - plan.light.vignetting * toCorner ** 2.5);
    }
  }
  return { x, y, light };
}

function lightAt(
  light: Lighting,
  edgesMm: readonly [number, number, number, number],
  x: number,
  y: number,
): number {
  const fromMiddleX = x - (edgesMm[0] + edgesMm[2]) / 2;
  const fromMiddleY = y - (edgesMm[1] + edgesMm[3]) / 2;
  const gradient =
    1 + (light.gradientPerM[0] * fromMiddleX + light.gradientPerM[1] * fromMiddleY) / 1000;
  const away = Math.hypot(x - light.glow.atMm[0], y - light.glow.atMm[1]) / light.glow.radiusMm;
  let factor = Math.max(0.1, gradient) * (1 + light.glow.strength * Math.exp(-0.5 * away * away));
  for (const shadow of light.shadows) {
    const dx = x - shadow.centreMm[0];
    const dy = y - shadow.centreMm[1];
    const distance = shadow.round
      ? Math.hypot(dx, dy)
      : Math.abs(-dx * Math.sin(shadow.angleRad) + dy * Math.cos(shadow.angleRad));
    const inside = (shadow.halfWidthMm - distance) / shadow.softnessMm;
    factor *= 1 - shadow.depth / (1 + Math.exp(-1.7 * inside));
  }
  return factor;
}

/** Linear reflectance of what lies at a place: board and marks, or the table beside it. */
function boardColour(
  board: PreparedBoard,
  light: Lighting,
  x: number,
  y: number,
  spreadMm: number,
  cover: MarkCover,
  colour: Float64Array,
): void {
  const { look, texture } = board;
  const [minX, minY, maxX, maxY] = look.edgesMm;
  const beyond = Math.max(minX - x, x - maxX, minY - y, y - maxY);
  if (beyond > 3 * spreadMm) {
    const shadow = tableShade(board, x, y, beyond, spreadMm);
    for (let channel = 0; channel < 3; channel++) {
      colour[channel] = look.tableTone[channel]! * shadow;
    }
    return;
  }
  const factor = textureAt(
    texture.factor,
    texture.columns,
    texture.rows,
    (x - minX) / texture.cellMm,
    (y - minY) / texture.cellMm,
  );
  for (let channel = 0; channel < 3; channel++) colour[channel] = look.tone[channel]! * factor;
  if (coverMarks(board.index, light.lampMm, x, y, spreadMm, cover)) {
    for (let channel = 0; channel < 3; channel++) {
      let value = colour[channel]!;
      value += cover.halo * (SCORCH[channel]! * factor - value);
      value += cover.burnt * (CHAR[channel]! - value);
      value *= Math.max(0, 1 + cover.shade);
      value += cover.chalk * (CHALK[channel]! - value);
      colour[channel] = value;
    }
  }
  if (beyond > -3 * spreadMm) {
    const share = 1 / (1 + Math.exp((-1.7 * beyond) / spreadMm));
    const dark = tableShade(board, x, y, beyond, spreadMm);
    for (let channel = 0; channel < 3; channel++) {
      colour[channel] = mix(colour[channel]!, look.tableTone[channel]! * dark, share);
    }
  }
}

/** The table's own pattern, coarser than the board's, its slots, and the shadow of the board's edge. */
function tableShade(
  board: PreparedBoard,
  x: number,
  y: number,
  beyond: number,
  spreadMm: number,
): number {
  const { texture, look } = board;
  const grain = textureAt(
    texture.factor,
    texture.columns,
    texture.rows,
    Math.abs((y * TABLE_GRAIN) % texture.columns),
    Math.abs((x * TABLE_GRAIN) % texture.rows),
  );
  let shade = grain * (1 - 0.65 * Math.exp(-Math.max(0, beyond) / EDGE_SHADOW_MM));
  if (look.tableSlotsMm) {
    const off = Math.abs(x - look.tableSlotsMm * Math.round(x / look.tableSlotsMm));
    shade *= 1 - 0.7 / (1 + Math.exp((1.7 * (off - SLOT_HALF_MM)) / spreadMm));
  }
  return shade;
}

function textureAt(
  values: Float32Array,
  columns: number,
  rows: number,
  column: number,
  row: number,
): number {
  const x = Math.min(columns - 1.001, Math.max(0, column));
  const y = Math.min(rows - 1.001, Math.max(0, row));
  const left = x | 0;
  const low = y | 0;
  const at = low * columns + left;
  const lower = mix(values[at]!, values[at + 1]!, x - left);
  const upper = mix(values[at + columns]!, values[at + columns + 1]!, x - left);
  return mix(lower, upper, y - low);
}

/** Seen from the side a tall object reaches beyond its foot; twice its height is ample. */
function objectReach(object: BoardObject): number {
  return object.sizeMm[0] + object.sizeMm[1] + 4 * object.heightMm + 10;
}

const NOISE_VALUES = 1 << 18;
const NOISE_MASK = NOISE_VALUES - 1;

function noiseTable(random: RandomSource): Float32Array {
  const values = new Float32Array(NOISE_VALUES);
  for (let i = 0; i < NOISE_VALUES; i++) values[i] = random.normal();
  return values;
}

/** sRGB coding of linear values 0 to 1, in counts of 255 (IEC 61966-2-1). */
function toneTable(): Float32Array {
  const entries = 1 << 15;
  return Float32Array.from({ length: entries }, (_, i) => {
    const linear = (i + 0.5) / entries;
    return 255 * (linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055);
  });
}

function mix(a: number, b: number, share: number): number {
  return a + share * (b - a);
}
