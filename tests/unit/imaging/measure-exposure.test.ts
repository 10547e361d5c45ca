import { describe, expect, it } from 'vitest';
import { measureExposure } from '../../../src/imaging/index.js';

/** 100 × 100 px: the first ten rows black, the next twenty white, the rest 120. */
function striped() {
  const data = new Uint8Array(100 * 100).fill(120);
  data.fill(0, 0, 1000);
  data.fill(255, 1000, 3000);
  return { width: 100, height: 100, data };
}

describe('the exposure of a picture', () => {
  it('is the shares next to black and white and the median', () => {
    expect(measureExposure(striped())).toEqual({
      clippedDark: expect.closeTo(0.1, 6),
      clippedBright: expect.closeTo(0.2, 6),
      medianGrey: 120,
    });
  });

  it('is that of the given places alone, and passes over those outside', () => {
    // One on black, three on white, then outside on each side.
    const points = Float64Array.of(5, 2, 5, 15, 50, 20, 90, 25, -3, 15, 5, 500, 100, 15, 5, -1);
    expect(measureExposure(striped(), points)).toEqual({
      clippedDark: 0.25,
      clippedBright: 0.75,
      medianGrey: 255,
    });
  });

  it('counts a place that compression moved a little off the end, and no light grey', () => {
    const grey = { width: 4, height: 1, data: Uint8Array.of(2, 252, 230, 30) };
    const points = Float64Array.of(0, 0, 1, 0, 2, 0, 3, 0);
    const found = measureExposure(grey, points);
    expect(found).toMatchObject({ clippedDark: 0.25, clippedBright: 0.25 });
  });

  it('is not known where no place lies inside', () => {
    expect(measureExposure(striped(), Float64Array.of(-1, -1))).toBeUndefined();
  });
});
