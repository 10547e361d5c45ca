/** Round rims against the Cramér–Rao bound, drawn by brute force. */

import { describe, expect, it } from 'vitest';
import { createRandomSource } from '../../samples/random-source.js';
import { findFeature, type LayoutFeature } from '../../src/fixture/index.js';
import { disc, drawView } from '../unit/fixture/draw-features.js';

const MM_PER_PX = 0.2;
const FEATURE: LayoutFeature = {
  name: 'H',
  kind: 'hole',
  atMm: [0, 0],
  diameterMm: 8,
  heightMm: 0,
  heightUMm: 0,
  isHeightKnown: true,
  scatterMm: 0.02,
};

/**
 * Of one coordinate of the centre of a circle of radius R px, its step of contrast c blurred by σ, in white noise s:
 * the information is (c/s)² ∮ cos²φ R dφ ∫ g² = (c/s)² π R / (2 σ √π), g the normal density (worked by hand).
 */
function bound(contrast: number, noise: number, sigma: number, radiusPx: number): number {
  return Math.sqrt((2 * sigma * noise ** 2) / (contrast ** 2 * Math.sqrt(Math.PI) * radiusPx));
}

describe('the centre of a round rim', () => {
  it('is scattered by no more than 1.4 times the Cramér–Rao bound, at 0° and, by its shorter axis, at 40°', () => {
    const random = createRandomSource(11);
    // Noise of 6 levels, of rounding 1/√12; a pixel's own width widens the blur.
    const [contrast, noise, blur] = [
      120,
      Math.hypot(6, Math.sqrt(1 / 12)),
      Math.hypot(1, Math.sqrt(1 / 12)),
    ];
    for (const tilt of [0, 40]) {
      let square = 0;
      let normed = 0;
      const trials = 20;
      for (let i = 0; i < trials; i++) {
        const at = [random.between(-1, 1), random.between(-1, 1)] as const;
        const view = drawView([disc(at, 8, 180 - contrast)], {
          tiltRad: (tilt * Math.PI) / 180,
          rollRad: i,
          aimMm: [0, 0],
          widthPx: 80,
          heightPx: 80,
          blurPx: 1,
          noise: 6,
          mmPerPx: MM_PER_PX,
          seed: 100 + i,
        });
        const seen = findFeature(view, FEATURE, 2);
        expect(seen.state).toBe('found');
        if (seen.state !== 'found') continue;
        for (const k of [0, 1] as const) {
          const error = seen.values[k] - at[k];
          square += error ** 2 / (2 * trials);
          normed += error ** 2 / seen.covariance[k === 0 ? 0 : 2] / (2 * trials);
        }
      }
      const rmsPx = Math.sqrt(square) / MM_PER_PX;
      // Foreshortening leaves the rim's short axis cos 40° of its length.
      const least = bound(contrast, noise, blur, 20) / Math.cos((tilt * Math.PI) / 180);
      // Forty errors: their mean square is good to a quarter.
      expect(rmsPx).toBeLessThan(1.4 * least);
      expect(rmsPx).toBeGreaterThan(0.6 * least);
      // The stated u is no smaller than the scatter.
      expect(normed).toBeLessThan(1.5);
      process.stdout.write(
        `tilt ${tilt}°: scatter ${rmsPx.toFixed(4)} px, bound ${least.toFixed(4)} px, (error/u)² ${normed.toFixed(2)}\n`,
      );
    }
  });
});
