/** The measurement across marks against the Cramér-Rao bound of drawn pictures; the full sweep is a bench. */

import { describe, expect, it } from 'vitest';
import type { MarkedPicture } from './straight-marks.js';
import { BASE, box, GRAIN } from './sub-pixel-cases.js';
import { scorePicture } from './sub-pixel-score.js';

/** 224 segments leave 5 % open about a standard deviation. */
const SEEDS = [1, 2];

function score(picture: Partial<MarkedPicture>, axes?: readonly ('x' | 'y')[]) {
  return scorePicture({ ...BASE, ...picture, seed: 0 }, SEEDS, axes);
}

describe('straight marks on an even board', () => {
  for (const [title, picture] of [
    ['3 px wide, 70 grey values deep in noise of 3', {}],
    ['along the rows of pixels', { rollDeg: 0 }],
    ['three grey values deep in noise of 1', { profileAt: () => box(3, 3), noiseGrey: 1 }],
    ['blurred by 3 px', { blurPx: 3 }],
  ] as const) {
    it(`${title}: scatter within 1.2 of the bound, stated as it is`, () => {
      const found = score(picture);
      expect(found.overBound).toBeLessThan(1.2);
      // Not below the bound by more than its own sampling error, three times 5 %.
      expect(found.overBound).toBeGreaterThan(0.85);
      expect(found.overSigma).toBeGreaterThan(0.75);
      expect(found.overSigma).toBeLessThan(1.25);
      expect(found.rejected).toBe(0);
    });
  }
});

describe('straight marks on grained wood', () => {
  const wood = { texture: { ...GRAIN, grey: 8 }, profileAt: () => box(3, 40) };

  it('grain across the marks: within 1.5 of the bound in the same grain', () => {
    const found = score(wood, ['y']);
    expect(found.overBound).toBeLessThan(1.5);
    expect(found.overSigma).toBeLessThan(1.35);
  });

  it('grain along the marks: within 1.5 of the bound in the same grain, and stated so', () => {
    const found = score(wood, ['x']);
    expect(found.overBound).toBeLessThan(1.5);
    expect(found.overSigma).toBeLessThan(1.4);
    expect(found.rejected).toBeLessThan(0.05);
  });
});
