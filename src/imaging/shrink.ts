/** Smaller pictures by area means, for searches that need no detail. */

import type { GreyImage } from '../quantity/index.js';

/**
 * Shrinks by a whole factor f: pixel i of the result is the rounded mean of source pixels i·f to
 * i·f + f - 1, so its centre lies at source coordinate i·f + (f - 1) / 2. Columns and rows left
 * over at the right and at the bottom are dropped.
 *
 * @param factor whole, at least 1, at most the smaller side.
 */
export function shrink(grey: GreyImage, factor: number): GreyImage {
  const { width: sourceWidth, height: sourceHeight, data: source } = grey;
  if (!Number.isInteger(factor) || factor < 1 || factor > Math.min(sourceWidth, sourceHeight)) {
    throw new RangeError(`shrink factor ${factor} for ${sourceWidth} × ${sourceHeight} pixels`);
  }
  const width = Math.floor(sourceWidth / factor);
  const height = Math.floor(sourceHeight / factor);
  const data = new Uint8Array(width * height);
  const sums = new Float64Array(width);
  const area = factor * factor;
  for (let row = 0; row < height; row += 1) {
    sums.fill(0);
    for (let line = row * factor; line < (row + 1) * factor; line += 1) {
      let at = line * sourceWidth;
      for (let column = 0; column < width; column += 1) {
        let sum = 0;
        for (const end = at + factor; at < end; at += 1) sum += source[at]!;
        sums[column]! += sum;
      }
    }
    for (let column = 0; column < width; column += 1) {
      data[row * width + column] = Math.round(sums[column]! / area);
    }
  }
  return { width, height, data };
}
