/** Convergence and distortion at which the members of two pencils fall together best. */

import type { Pencil, PencilPair } from './find-pencils.js';

/** Makes the members of both families as sharp as they can be; see `sharpness`. */
export function sharpenPencils(pair: PencilPair, pxPerUnit: number): PencilPair {
  let state = [pair.first.theta, pair.first.w, pair.second.theta, pair.second.w, pair.kappa];
  const value = (s: readonly number[], bin: number) =>
    sharpness(pair.places[0], { theta: s[0], w: s[1] }, s[4], bin) +
    sharpness(pair.places[1], { theta: s[2], w: s[3] }, s[4], bin);
  for (const [binPx, shrink] of [
    [4, 1],
    [2.5, 0.5],
    [1.5, 0.25],
    [1.2, 0.12],
  ]) {
    const bin = binPx / pxPerUnit;
    const steps = [0.008, 0.02, 0.008, 0.02, 0.02].map((step) => step * shrink);
    let best = value(state, bin);
    for (let round = 0; round < 8; round++) {
      let moved = false;
      for (const k of [4, 0, 1, 2, 3]) {
        for (const sense of [-2, -1, 1, 2]) {
          const trial = [...state];
          trial[k] += sense * steps[k];
          if (Math.abs(trial[4]) > 0.2) continue;
          const v = value(trial, bin);
          if (v > best) {
            best = v;
            state = trial;
            moved = true;
          }
        }
      }
      if (!moved) break;
    }
  }
  return {
    ...pair,
    first: { theta: state[0], w: state[1] },
    second: { theta: state[2], w: state[3] },
    kappa: state[4],
  };
}

/** Sum of squares of the histogram of line positions: largest where members fall together. */
function sharpness(places: Float64Array, pencil: Pencil, kappa: number, bin: number): number {
  const bins = Math.ceil(4 / bin);
  const histogram = new Float64Array(bins + 2);
  const ex = Math.cos(pencil.theta);
  const ey = Math.sin(pencil.theta);
  for (let i = 0; i < places.length; i += 3) {
    const swell = 1 + kappa * (places[i] ** 2 + places[i + 1] ** 2);
    const x = places[i] * swell;
    const y = places[i + 1] * swell;
    const down = 1 - pencil.w * (ex * x + ey * y);
    if (down < 0.1) continue;
    const at = ((ex * y - ey * x) / down + 2) / bin;
    if (at < 0 || at >= bins) continue;
    const b = Math.floor(at);
    histogram[b] += places[i + 2] * (1 - at + b);
    histogram[b + 1] += places[i + 2] * (at - b);
  }
  let sum = 0;
  for (let b = 1; b < histogram.length; b++) sum += (histogram[b - 1] + histogram[b]) ** 2;
  return sum;
}
