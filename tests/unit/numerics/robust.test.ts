import { describe, expect, it } from 'vitest';
import { median, robustSigma } from '../../../src/numerics/index.js';

describe('the median', () => {
  it('is the middle value, or the mean of the two middle ones, by size and not by digits', () => {
    expect(median([100, 9, 20])).toBe(20);
    expect(median([-1, 100, 9, 20])).toBe(14.5);
    expect(median([7])).toBe(7);
    expect(median([])).toBeNaN();
  });

  it('leaves its input in order', () => {
    const values = [3, 1, 2];
    median(values);
    expect(values).toEqual([3, 1, 2]);
  });
});

describe('the robust standard deviation', () => {
  it('is 1.4826 times the median distance from the median', () => {
    // Median 3; distances 2, 1, 0, 1, 97.
    expect(robustSigma([1, 2, 3, 4, 100])).toBeCloseTo(1.4826, 12);
    expect(robustSigma([-3, -3, -3])).toBe(0);
  });
});
