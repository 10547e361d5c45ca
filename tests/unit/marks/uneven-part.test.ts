import { describe, expect, it } from 'vitest';
import { findLattice } from '../../../src/marks/find-lattice.js';
import { imageFromCommanded } from '../../../src/marks/image-map.js';
import { drawScene, gridStrokes } from './draw-scene.js';

const WIDTH = 1000;
const HEIGHT = 750;
const OFF_PX = 2;

function positions(gapsMm: readonly number[]): number[] {
  const all = [0];
  for (const gap of gapsMm) all.push(all[all.length - 1] + gap);
  return all;
}

/** The middle of a grid, no end of a line in view. */
function lookAt(xs: readonly number[], ys: readonly number[], rollDeg: number) {
  const strokes = gridStrokes(xs, ys);
  const scene = drawScene({
    width: WIDTH,
    height: HEIGHT,
    strokes,
    acrossMm: 420,
    markPx: 3,
    borderMm: [60, 60, 60, 60],
    aimMm: [0.52 * xs[xs.length - 1], 0.47 * ys[ys.length - 1]],
    rollDeg,
    tiltDeg: 10,
    leanDeg: 30,
  });
  return { strokes, scene };
}

describe('the middle of a grid of uneven gaps', () => {
  it('is placed by their sequence, whichever way the phone is held', async () => {
    const xs = positions([35, 60, 45, 70, 50, 50, 35, 70, 60, 45, 35, 60, 70, 45, 50, 60, 35, 50]);
    const ys = positions([60, 45, 35, 50, 70, 35, 45, 60, 50, 70, 60, 35, 50, 45, 70, 60]);
    const { strokes, scene } = lookAt(xs, ys, 112);
    const outcome = await findLattice(scene.grey, strokes);
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(true);
    expect(outcome.value.shareInPicture).toBeLessThan(0.6);
    let seen = 0;
    for (const x of xs) {
      for (const y of ys) {
        const [u, v] = scene.truth(x, y);
        if (u < 0 || v < 0 || u >= WIDTH || v >= HEIGHT) continue;
        seen++;
        const [uFound, vFound] = imageFromCommanded(outcome.value.map, x, y);
        expect(Math.hypot(u - uFound, v - vFound)).toBeLessThan(OFF_PX);
      }
    }
    expect(seen).toBeGreaterThan(20);
  });

  describe('that repeat every second line', () => {
    const gaps = Array.from({ length: 18 }, (_, k) => (k % 2 === 0 ? 60 : 40));
    const xs = positions(gaps);
    const ys = positions(gaps.slice(0, 14));
    const { strokes, scene } = lookAt(xs, ys, 20);

    it('is not placed', async () => {
      const outcome = await findLattice(scene.grey, strokes);
      expect(outcome.ok ? undefined : outcome.failure.code).toBe('GRID_AMBIGUOUS');
    });

    it('is placed by two crossings stated', async () => {
      const stated = [
        [xs[10], ys[7]],
        [xs[11], ys[6]],
      ].map(([xMm, yMm]) => {
        const [uPx, vPx] = scene.truth(xMm, yMm);
        // Nobody points more exactly.
        return { xMm, yMm, uPx: uPx + 6, vPx: vPx - 5 };
      });
      const outcome = await findLattice(scene.grey, strokes, { stated });
      if (!outcome.ok) throw outcome.failure;
      expect(outcome.value.certain).toBe(true);
      const [u, v] = scene.truth(xs[9], ys[8]);
      const [uFound, vFound] = imageFromCommanded(outcome.value.map, xs[9], ys[8]);
      expect(Math.hypot(u - uFound, v - vFound)).toBeLessThan(OFF_PX);
    });
  });
});
