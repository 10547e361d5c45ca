/** Area-averaged copies of a photo, for searching: noise falls with the area, marks stay where they are. */

import type { GreyImage } from '../quantity/index.js';

export interface ReducedImage {
  readonly width: number;
  readonly height: number;
  /** height × width grey values, row-major. */
  readonly data: Float32Array;
  /** Full-size pixels per reduced pixel: full = (reduced + 0.5)·factor - 0.5. */
  readonly factor: number;
}

/**
 * Shrinks by area averaging so that the longest side is at most `longestSidePx`; never enlarges.
 *
 * @param grey height × width, sensor frame.
 * @param longestSidePx longest side wanted; px.
 */
export function reduceImage(grey: GreyImage, longestSidePx: number): ReducedImage {
  const factor = Math.max(1, Math.max(grey.width, grey.height) / longestSidePx);
  if (factor === 1) {
    return { width: grey.width, height: grey.height, data: Float32Array.from(grey.data), factor };
  }
  const width = Math.floor(grey.width / factor);
  const height = Math.floor(grey.height / factor);
  const data = new Float32Array(width * height);
  const columns = new Float32Array(grey.width);
  const cover = factor * factor;
  for (let v = 0; v < height; v++) {
    sumRows(grey, v * factor, (v + 1) * factor, columns);
    for (let u = 0; u < width; u++) {
      const from = u * factor;
      const to = from + factor;
      const first = Math.floor(from);
      const last = Math.min(grey.width - 1, Math.ceil(to) - 1);
      let sum = columns[first] * (Math.min(first + 1, to) - from);
      for (let x = first + 1; x < last; x++) sum += columns[x];
      if (last > first) sum += columns[last] * (to - last);
      data[v * width + u] = sum / cover;
    }
  }
  return { width, height, data, factor };
}

function sumRows(grey: GreyImage, from: number, to: number, columns: Float32Array): void {
  columns.fill(0);
  const last = Math.min(grey.height - 1, Math.ceil(to) - 1);
  for (let y = Math.floor(from); y <= last; y++) {
    const weight = Math.min(y + 1, to) - Math.max(y, from);
    const row = y * grey.width;
    for (let x = 0; x < grey.width; x++) columns[x] += weight * grey.data[row + x];
  }
}
