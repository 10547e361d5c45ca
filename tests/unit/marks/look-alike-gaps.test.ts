import { describe, expect, it } from 'vitest';
import { hasLookAlike } from '../../../src/marks/look-alike-gaps.js';

const rowOf = (gaps: readonly number[]) => {
  let at = 0;
  return Float64Array.of(0, ...gaps.map((gap) => (at += gap)));
};
const UNEVEN_X = rowOf([30, 60, 35, 70, 45, 30, 55, 70, 40, 65, 30, 50]);
const UNEVEN_Y = rowOf([65, 30, 30, 50, 70, 40, 60, 35, 55, 30, 70, 45]);

describe('lines of an unevenly spaced grid in view', () => {
  it('have no look-alike where no other gaps follow one another so', () => {
    expect(
      hasLookAlike(
        [UNEVEN_X, UNEVEN_Y],
        [
          [2, 10],
          [1, 9],
        ],
      ),
    ).toBe(false);
  });

  it('have one where the gaps repeat', () => {
    const repeated = rowOf([30, 60, 45, 30, 60, 45, 30, 60, 45, 30, 60, 45]);
    expect(
      hasLookAlike(
        [repeated, UNEVEN_Y],
        [
          [3, 9],
          [1, 9],
        ],
      ),
    ).toBe(true);
  });

  it('have one where the gaps hardly differ', () => {
    const slight = rowOf([50, 51, 49, 50, 52, 50, 49, 51, 50, 50, 48, 51]);
    expect(
      hasLookAlike(
        [slight, UNEVEN_Y],
        [
          [3, 9],
          [1, 9],
        ],
      ),
    ).toBe(true);
  });

  it('have one where they read the same upside down', () => {
    const mirrored = rowOf([30, 60, 35, 70, 45, 30, 30, 45, 70, 35, 60, 30]);
    expect(
      hasLookAlike(
        [mirrored, mirrored],
        [
          [2, 10],
          [2, 10],
        ],
      ),
    ).toBe(true);
  });
});
