import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { orthogonalPolynomials, robustSigma, sampleNormal } from '../../src/numerics/index.js';

// Neither gives types that an import could use.
const require = createRequire(import.meta.url);
const cephes = require('cephes') as {
  /** Normal distribution and its inverse. */
  ndtr(z: number): number;
  ndtri(p: number): number;
  /** Chi-squared distribution. */
  chdtr(degrees: number, x: number): number;
};
const { PolynomialRegression, SimpleLinearRegression } = require('ml-regression') as {
  PolynomialRegression: new (
    x: readonly number[],
    y: readonly number[],
    degree: number,
  ) => { predict(x: number): number };
  SimpleLinearRegression: new (
    x: readonly number[],
    y: readonly number[],
  ) => { readonly slope: number; readonly intercept: number };
};

/** Lines of a grid with uneven gaps, mm, and bends of some hundredths with a spike. */
const PLACES_MM = [0, 33, 61.2, 92.1, 120, 153, 181.2, 212.1, 240, 273, 301.2, 332.1];
const BENDS_MM = [3, -1, 4, 1, -5, 9, 2, -6, 5, 3, -5, 8].map((value) => value / 100);

describe('orthogonal polynomials', () => {
  for (const degree of [1, 2, 3, 5]) {
    it(`fit as a regression of degree ${degree} by another library does`, () => {
      const basis = orthogonalPolynomials(PLACES_MM, degree);
      const coefficients = Array.from({ length: degree + 1 }, (_, k) =>
        mean((i) => basis.evaluate(k, PLACES_MM[i]!) * BENDS_MM[i]!),
      );
      // Scaled: powers of hundreds of millimetres would cost the other library its digits.
      const regression = new PolynomialRegression(
        PLACES_MM.map((x) => x / 100),
        BENDS_MM,
        degree,
      );
      for (const x of [0, 50, 166, 240, 332.1]) {
        const fitted = coefficients.reduce((sum, c, k) => sum + c * basis.evaluate(k, x), 0);
        expect(fitted).toBeCloseTo(regression.predict(x / 100), 8);
      }
    });
  }

  it('from the second degree on hold no constant and no slope that a line fit could find', () => {
    const basis = orthogonalPolynomials(PLACES_MM, 5);
    for (const k of [2, 3, 4, 5]) {
      const values = PLACES_MM.map((x) => basis.evaluate(k, x));
      const line = new SimpleLinearRegression(PLACES_MM, values);
      expect(line.slope).toBeCloseTo(0, 10);
      expect(line.intercept).toBeCloseTo(0, 10);
    }
  });
});

describe('the robust standard deviation', () => {
  it('of normal quantiles is theirs', () => {
    const n = 4001;
    const quantiles = Array.from({ length: n }, (_, i) => cephes.ndtri((i + 0.5) / n));
    // Neighbouring quantiles lie 0.0003 apart where the deviation is read.
    expect(robustSigma(quantiles.map((z) => 7 + 0.3 * z))).toBeCloseTo(0.3, 3);
  });

  it('does not mind a tenth of gross outliers much', () => {
    const n = 1000;
    const spoilt = Array.from({ length: n }, (_, i) =>
      i % 10 === 0 ? 50 : cephes.ndtri((i + 0.5) / n),
    );
    // Of the rest, 5/9 lie inside the median deviation: 1.4826 times the normal quantile of 7/9.
    expect(robustSigma(spoilt)).toBeCloseTo(1.4826 * cephes.ndtri(7 / 9), 1);
  });
});

describe('draws from a normal distribution', () => {
  it('lie at distances that follow the chi-squared distribution', () => {
    const covariance = [
      [4, 1.2, -0.4],
      [1.2, 1, 0.1],
      [-0.4, 0.1, 0.25],
    ];
    const draws = sampleNormal([1, -2, 0.5], covariance, 4000) ?? [];
    const inverse = inverse3(covariance);
    const levels = draws
      .map((draw) => {
        const d = [draw[0]! - 1, draw[1]! + 2, draw[2]! - 0.5];
        const square = d.reduce(
          (sum, p, i) => sum + d.reduce((inner, q, j) => inner + p * inverse[i]![j]! * q, 0),
          0,
        );
        return cephes.chdtr(3, square);
      })
      .sort((a, b) => a - b);
    const n = levels.length;
    const gap = Math.max(...levels.map((level, i) => Math.max(level - i / n, (i + 1) / n - level)));
    // Kolmogorov and Smirnov: one set of draws in a hundred would lie further off than this.
    expect(gap).toBeLessThan(1.63 / Math.sqrt(n));
  });
});

describe('the coverage factor', () => {
  it('covers about 95 % of a normal distribution', () => {
    const covered = 1 - 2 * cephes.ndtr(-COVERAGE_FACTOR);
    expect(covered).toBeGreaterThan(0.95);
    expect(covered).toBeLessThan(0.96);
  });
});

function mean(of: (index: number) => number): number {
  return PLACES_MM.reduce((sum, _, i) => sum + of(i), 0) / PLACES_MM.length;
}

/** By cofactors. */
function inverse3(m: readonly (readonly number[])[]): number[][] {
  const at = (i: number, j: number) => m[((i % 3) + 3) % 3]![((j % 3) + 3) % 3]!;
  const cofactor = (i: number, j: number) =>
    at(i + 1, j + 1) * at(i + 2, j + 2) - at(i + 1, j + 2) * at(i + 2, j + 1);
  const determinant = [0, 1, 2].reduce((sum, j) => sum + at(0, j) * cofactor(0, j), 0);
  return [0, 1, 2].map((i) => [0, 1, 2].map((j) => cofactor(j, i) / determinant));
}
