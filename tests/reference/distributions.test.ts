import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import {
  chiSquaredTail,
  normalTail,
  normalTwoSided,
  studentQuantile,
  studentTwoSided,
} from '../../src/numerics/index.js';

const cephes = createRequire(import.meta.url)('cephes') as {
  ndtr(z: number): number;
  ndtri(p: number): number;
  /** Upper tail of chi-squared. */
  chdtrc(degrees: number, x: number): number;
  /** Incomplete beta: the t distribution for real degrees of freedom. */
  incbet(a: number, b: number, x: number): number;
  stdtri(degrees: number, p: number): number;
};

/** Digits that both keep: their series end at the precision of doubles. */
const RELATIVE = 1e-11;
const close = (found: number, expected: number) =>
  expect(Math.abs(found - expected)).toBeLessThanOrEqual(RELATIVE * Math.abs(expected));

describe('tails and quantiles agree with another library', () => {
  it('of the normal distribution', () => {
    for (const z of [-6, -2, -0.3, 0, 1e-3, 0.5, 1.96, 3, 8, 20]) {
      close(normalTail(z), cephes.ndtr(-z));
    }
    for (const p of [1e-9, 0.0027, 0.05, 0.5, 0.99]) close(normalTwoSided(p), -cephes.ndtri(p / 2));
  });

  it('of Student’s, also for degrees that are no integers', () => {
    for (const degrees of [1, 2, 3.7, 10, 58.5, 1000]) {
      for (const t of [0.01, 0.7, 2, 5, 40]) {
        const x = degrees / (degrees + t * t);
        close(studentTwoSided(t, degrees), cephes.incbet(degrees / 2, 0.5, x));
      }
    }
    for (const degrees of [1, 3, 17]) {
      for (const p of [1e-4, 0.05, 0.4]) {
        expect(studentQuantile(p, degrees)).toBeCloseTo(cephes.stdtri(degrees, 1 - p / 2), 7);
      }
    }
  });

  it('of chi-squared', () => {
    for (const degrees of [1, 2, 7, 50, 200]) {
      for (const ratio of [0.01, 0.5, 1, 1.7, 3]) {
        const x = ratio * degrees;
        close(chiSquaredTail(x, degrees), cephes.chdtrc(degrees, x));
      }
    }
  });

  it('of what is certain', () => {
    for (const x of [-1, 0]) expect(chiSquaredTail(x, 3)).toBe(1);
    expect(chiSquaredTail(5, 0)).toBe(1);
    expect(normalTwoSided(1)).toBe(0);
    expect(studentTwoSided(0, 4)).toBe(1);
    close(studentTwoSided(-2, Number.POSITIVE_INFINITY), 2 * cephes.ndtr(-2));
  });

  it('and with the tables that everybody has', () => {
    // GUM (JCGM 100:2008), table G.2, 95.45 % and 95 %.
    expect(studentQuantile(0.0455, 4)).toBeCloseTo(2.87, 2);
    expect(studentQuantile(0.05, 10)).toBeCloseTo(2.23, 2);
    expect(normalTwoSided(0.05)).toBeCloseTo(1.959964, 6);
  });
});
