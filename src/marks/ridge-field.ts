/**
 * Second derivatives of a picture in units of the local texture, and their mean along short lines:
 * thin marks stand out whatever the light, and single bright or dark blots cannot dominate.
 */

import type { ReducedImage } from './reduce-image.js';

export interface RidgeField {
  readonly width: number;
  readonly height: number;
  /**
   * height × width × 3: second derivatives xx, xy, yy, in units of the local texture's median
   * strength; side by side, because they are read together at scattered places.
   */
  readonly curvature: Float32Array;
}

/** The strongest line through each pixel. */
export interface RidgeMap {
  readonly width: number;
  readonly height: number;
  /** height × width; mean normalised curvature along the best direction. */
  readonly strength: Float32Array;
  /** Index of the best direction; angle = index·π / DIRECTIONS. */
  readonly direction: Uint8Array;
}

/** Directions tried: 7.5° apart, finer than the width-to-length ratio of the line of 16 px. */
export const DIRECTIONS = 24;

/** One pixel says no more than this many textures: a stone's rim must not outvote a faint line. */
export const SATURATION = 4;

/** Texture is measured in blocks of this side; px. */
const BLOCK_PX = 32;

/** Curvature below this many grey values is rounding of the grey values themselves. */
const LEAST_TEXTURE = 0.35;

/** Smooths (sigma about 1.1 px), differentiates twice and divides by the local texture. */
export function computeRidgeField(image: ReducedImage): RidgeField {
  const { width, height } = image;
  const smooth = smoothBinomial(image.data, width, height);
  const curvature = new Float32Array(3 * width * height);
  for (let y = 1; y < height - 1; y++) {
    for (let x = 1; x < width - 1; x++) {
      const i = y * width + x;
      const twice = 2 * smooth[i];
      curvature[3 * i] = smooth[i - 1] + smooth[i + 1] - twice;
      curvature[3 * i + 1] =
        (smooth[i + width + 1] +
          smooth[i - width - 1] -
          smooth[i + width - 1] -
          smooth[i - width + 1]) /
        4;
      curvature[3 * i + 2] = smooth[i - width] + smooth[i + width] - twice;
    }
  }
  const field = { width, height, curvature };
  divideByTexture(field);
  return field;
}

/**
 * The strongest straight line of 16 px through each pixel.
 *
 * @param sign +1 for dark marks (grey values curve upwards across them), -1 for bright ones.
 */
export function mapRidges(field: RidgeField, sign: 1 | -1): RidgeMap {
  const { width, height, curvature } = field;
  const strength = new Float32Array(width * height);
  const direction = new Uint8Array(width * height);
  // Zeros all round: what lies outside counts as nothing, and no border has to be looked for.
  const wide = width + 2 * RIM;
  const single = new Float32Array(wide * (height + 2 * RIM));
  const fours = new Float32Array(single.length);
  for (let d = 0; d < DIRECTIONS; d++) {
    const angle = (d * Math.PI) / DIRECTIONS;
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    const cxx = (sign * sin * sin) / 2;
    const cxy = sign * -sin * cos;
    const cyy = (sign * cos * cos) / 2;
    for (let y = 0, j = 0; y < height; y++) {
      const row = (y + RIM) * wide + RIM;
      for (let i = row; i < row + width; i++, j += 3) {
        const c = cxx * curvature[j] + cxy * curvature[j + 1] + cyy * curvature[j + 2];
        // Half of it between ± SATURATION / 2, without a branch that would be guessed wrongly.
        single[i] = Math.abs(c + SATURATION / 2) - Math.abs(c - SATURATION / 2);
      }
    }
    // Sums over the line's next 4 and then 16 pixels, each by doubling twice.
    const [one, two, four, eight] = [1, 2, 4, 8].map(
      (step) => Math.round(step * sin) * wide + Math.round(step * cos),
    );
    for (let y = 0; y < height; y++) {
      const row = (y + RIM) * wide + RIM;
      for (let i = row; i < row + width; i++) {
        fours[i] =
          Math.fround(single[i] + single[i + one]) +
          Math.fround(single[i + two] + single[i + two + one]);
      }
    }
    const backX = Math.round(7.5 * cos);
    const backY = Math.round(7.5 * sin);
    const x0 = Math.max(0, -backX);
    const x1 = Math.min(width, width - backX);
    for (let y = Math.max(0, -backY); y < Math.min(height, height - backY); y++) {
      let i = (y + RIM) * wide + RIM + x0;
      let j = (y + backY) * width + x0 + backX;
      for (let x = x0; x < x1; x++, i++, j++) {
        const s =
          Math.fround(fours[i] + fours[i + four]) +
          Math.fround(fours[i + eight] + fours[i + eight + four]);
        if (s > strength[j]) {
          strength[j] = s;
          direction[j] = d;
        }
      }
    }
  }
  for (let i = 0; i < strength.length; i++) strength[i] /= 16;
  return { width, height, strength, direction };
}

/** Pixels of a line reach no farther than this; px. */
const RIM = 16;

function smoothBinomial(data: Float32Array, width: number, height: number): Float32Array {
  const rows = new Float32Array(width * height);
  const out = new Float32Array(width * height);
  for (let y = 0; y < height; y++) {
    const r = y * width;
    for (let x = 0; x < width; x++) {
      const a = data[r + Math.max(0, x - 2)];
      const b = data[r + Math.max(0, x - 1)];
      const d = data[r + Math.min(width - 1, x + 1)];
      const e = data[r + Math.min(width - 1, x + 2)];
      rows[r + x] = (a + e + 4 * (b + d) + 6 * data[r + x]) / 16;
    }
  }
  for (let y = 0; y < height; y++) {
    const a = Math.max(0, y - 2) * width;
    const b = Math.max(0, y - 1) * width;
    const c = y * width;
    const d = Math.min(height - 1, y + 1) * width;
    const e = Math.min(height - 1, y + 2) * width;
    for (let x = 0; x < width; x++) {
      out[c + x] =
        (rows[a + x] + rows[e + x] + 4 * (rows[b + x] + rows[d + x]) + 6 * rows[c + x]) / 16;
    }
  }
  return out;
}

/** The texture is a median over blocks, so that the marks themselves hardly raise it. */
function divideByTexture(field: RidgeField): void {
  const { width, height, curvature } = field;
  const across = Math.ceil(width / BLOCK_PX);
  const down = Math.ceil(height / BLOCK_PX);
  const texture = new Float32Array(across * down);
  for (let by = 0; by < down; by++) {
    for (let bx = 0; bx < across; bx++) {
      const values: number[] = [];
      for (let y = by * BLOCK_PX; y < Math.min(height, (by + 1) * BLOCK_PX); y += 2) {
        for (let x = bx * BLOCK_PX; x < Math.min(width, (bx + 1) * BLOCK_PX); x += 2) {
          const i = 3 * (y * width + x);
          values.push(curvature[i] ** 2 + 2 * curvature[i + 1] ** 2 + curvature[i + 2] ** 2);
        }
      }
      const sorted = Float64Array.from(values).sort();
      texture[by * across + bx] = Math.sqrt(sorted[sorted.length >> 1]);
    }
  }
  const column = new Float32Array(width);
  const left = new Uint16Array(width);
  const right = new Uint16Array(width);
  const shareLeft = new Float64Array(width);
  const shareRight = new Float64Array(width);
  for (let x = 0; x < width; x++) {
    const fx = Math.min(Math.max((x + 0.5) / BLOCK_PX - 0.5, 0), across - 1);
    left[x] = Math.floor(fx);
    right[x] = Math.min(across - 1, left[x] + 1);
    shareLeft[x] = 1 - fx + left[x];
    shareRight[x] = fx - left[x];
  }
  for (let y = 0; y < height; y++) {
    const fy = Math.min(Math.max((y + 0.5) / BLOCK_PX - 0.5, 0), down - 1);
    const y0 = Math.floor(fy);
    const y1 = Math.min(down - 1, y0 + 1);
    for (let x = 0; x < width; x++) {
      const x0 = left[x];
      const x1 = right[x];
      const a = shareLeft[x];
      const b = shareRight[x];
      const upper = texture[y0 * across + x0] * a + texture[y0 * across + x1] * b;
      const lower = texture[y1 * across + x0] * a + texture[y1 * across + x1] * b;
      column[x] = 1 / Math.max(LEAST_TEXTURE, upper * (1 - fy + y0) + lower * (fy - y0));
    }
    for (let x = 0; x < width; x++) {
      const i = 3 * (y * width + x);
      curvature[i] *= column[x];
      curvature[i + 1] *= column[x];
      curvature[i + 2] *= column[x];
    }
  }
}
