/**
 * Straight marks whose pixels are exact integrals: the distance of every line from every pixel is
 * chosen, and the grey follows in closed form. Knows nothing of the code under test.
 */

import { randomFrom } from './draw-scene.js';

export interface DrawnLine {
  /** Two points on the middle of the mark; px. */
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
}

export interface DrawnMarks {
  readonly width: number;
  readonly height: number;
  readonly lines: readonly DrawnLine[];
  /** 'pair': bright and dark half, side by side. */
  readonly look: 'dark' | 'bright' | 'pair';
  readonly widthPx: number;
  /** Width of the box that blurs across the line, beside the pixel's own area; px. */
  readonly blurPx: number;
  readonly depthGrey: number;
  readonly noiseGrey: number;
  readonly seed: number;
}

/** Grey of the bare board. */
const BOARD = 150;

export function drawMarks(options: DrawnMarks): {
  width: number;
  height: number;
  data: Uint8Array;
} {
  const { width, height, lines, look, widthPx, blurPx, depthGrey, noiseGrey } = options;
  const random = randomFrom(options.seed);
  const sums = new Float64Array(width * height);
  for (const { from, to } of lines) {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const alongU = (to[0] - from[0]) / length;
    const alongV = (to[1] - from[1]) / length;
    const boxes = [Math.abs(alongV), Math.abs(alongU), blurPx];
    const reach = widthPx / 2 + (boxes[0] + boxes[1] + blurPx) / 2 + 1;
    for (let v = 0; v < height; v++) {
      for (let u = 0; u < width; u++) {
        // Positive on the left of the direction as the picture is shown.
        const d = (u - from[0]) * alongV - (v - from[1]) * alongU;
        if (Math.abs(d) > reach) continue;
        const t = (u - from[0]) * alongU + (v - from[1]) * alongV;
        if (t < 0 || t > length) continue;
        const left = edge(d + widthPx / 2, boxes);
        const right = edge(d - widthPx / 2, boxes);
        const middle = look === 'pair' ? edge(d, boxes) : 0;
        const share = look === 'pair' ? left - 2 * middle + right : left - right;
        sums[v * width + u] += (look === 'dark' ? -1 : 1) * depthGrey * share;
      }
    }
  }
  const data = Uint8Array.from(sums, (sum) => {
    // Sum of three uniform numbers: near enough to a normal one.
    const noise = noiseGrey * 2 * (random() + random() + random() - 1.5);
    return Math.max(0, Math.min(255, Math.round(BOARD + sum + noise)));
  });
  return { width, height, data };
}

/**
 * A step at 0, averaged over boxes of the given widths in turn, at x: the n-fold integral of the
 * step, (x)₊ⁿ/n!, taken at all combinations of the boxes' ends.
 */
function edge(x: number, widths: readonly number[]): number {
  const boxes = widths.filter((w) => w > 1e-3);
  let sum = 0;
  for (let combination = 0; combination < 1 << boxes.length; combination++) {
    let at = x;
    let sign = 1;
    boxes.forEach((w, i) => {
      const isUpper = (combination >> i) & 1;
      at += isUpper ? w / 2 : -w / 2;
      if (!isUpper) sign = -sign;
    });
    sum += sign * Math.max(0, at) ** boxes.length;
  }
  let factor = 1;
  boxes.forEach((w, i) => {
    factor *= w * (i + 1);
  });
  return sum / factor;
}
