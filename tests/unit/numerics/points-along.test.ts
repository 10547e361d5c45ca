import { describe, expect, it } from 'vitest';
import { interpolate, lineThrough } from '../../../src/numerics/index.js';

describe('a straight line through points', () => {
  it('has the slope and the means worked by hand', () => {
    // About (3, 4): products (-2)(-3) + 0 + 2 · 4 = 14, squares 8.
    const points = [
      { at: 1, value: 1 },
      { at: 3, value: 3 },
      { at: 5, value: 8 },
    ];
    expect(lineThrough(points)).toEqual({ middle: 3, mean: 4, slope: 14 / 8 });
  });
});

describe('between points', () => {
  const points = [
    { at: 10, value: 1 },
    { at: 20, value: 3 },
    { at: 60, value: -5 },
  ];

  it.each([
    [10, 1],
    [12.5, 1.5],
    [20, 3],
    [30, 1],
    [60, -5],
  ])('at %d the value is %d: straight from one to the next', (at, value) => {
    expect(interpolate(points, at)).toBeCloseTo(value, 12);
  });

  it('values are held beyond the ends, and are 0 where there are no points', () => {
    expect(interpolate(points, 0)).toBe(1);
    expect(interpolate(points, 61)).toBe(-5);
    expect(interpolate([], 5)).toBe(0);
  });
});
