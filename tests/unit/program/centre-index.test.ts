import { expect, test } from 'vitest';
import { CentreIndex } from '../../../src/program/centre-index.js';

/** 0.0005 inch, below which centres are one: the limit of circles that do not close (NISTIR 6556, 3.5.3). */
const SAME_MM = 0.0127;

test('points get numbers in order, those within 0.0127 mm of an earlier one its number', () => {
  const index = new CentreIndex();
  // Close together, so that they share a cell; far apart; below zero.
  const places = [0, 2, 4, 6, 40_000, -3, -50_000].map((share) => share * SAME_MM);
  expect(places.map((x) => index.settle(x, -x))).toEqual([0, 1, 2, 3, 4, 5, 6]);
  expect(places.map((x) => index.settle(x, -x))).toEqual([0, 1, 2, 3, 4, 5, 6]);
  expect(places.map((x) => index.settle(x + 0.5 * SAME_MM, -x))).toEqual([0, 1, 2, 3, 4, 5, 6]);
  expect(index.settle(8.2 * SAME_MM, -8.2 * SAME_MM)).toBe(7);
  // Beside the first in one of the two only.
  expect(index.settle(0, 1.01 * SAME_MM)).toBe(8);
});
