/** Least squares with a full covariance, and densities, against ml-matrix. */

import { inverse, Matrix, determinant as mlDeterminant } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { fitGeneralised, logDensityWhitened, makeWhitening } from '../../src/numerics/index.js';

const COVARIANCE = [
  [4, 1, 0.5, 0],
  [1, 3, 0.2, -0.4],
  [0.5, 0.2, 2, 0.3],
  [0, -0.4, 0.3, 1],
];
const READINGS = [1.2, -0.4, 3.1, 0.7];
const COLUMNS = [
  [1, 1, 1, 1],
  [0, 1, 2.5, 4],
];
const flat = (rows: readonly (readonly number[])[]) => Float64Array.from(rows.flat());

describe('a generalised least-squares fit', () => {
  const A = new Matrix(COLUMNS).transpose();
  const y = Matrix.columnVector(READINGS);
  const weight = inverse(new Matrix(COVARIANCE));
  const expected = inverse(A.transpose().mmul(weight).mmul(A));
  const values = expected.mmul(A.transpose()).mmul(weight).mmul(y);
  const residual = Matrix.sub(y, A.mmul(values));

  it('has the values, covariance, residuals and chi-squared of the matrix formula', () => {
    const fit = fitGeneralised(READINGS, COLUMNS, flat(COVARIANCE))!;
    const near = (found: ArrayLike<number>, wanted: Matrix) => {
      expect(found.length).toBe(wanted.to1DArray().length);
      wanted.to1DArray().forEach((value, i) => {
        expect(found[i]!).toBeCloseTo(value, 12);
      });
    };
    near(fit.values, values);
    near(fit.covariance, expected);
    near(fit.residual, residual);
    expect(fit.chiSquared).toBeCloseTo(
      residual.transpose().mmul(weight).mmul(residual).get(0, 0),
      12,
    );
    expect(fit.freedom).toBe(2);
    fit.gain.forEach((row, i) => {
      expect(row.reduce((sum, one, r) => sum + one * READINGS[r]!, 0)).toBeCloseTo(
        values.get(i, 0),
        12,
      );
    });
  });

  it('is none where the columns depend on each other, or the covariance is none', () => {
    const twice = [COLUMNS[1]!, COLUMNS[1]!.map((one) => 3 * one)];
    expect(fitGeneralised(READINGS, twice, flat(COVARIANCE))).toBeUndefined();
    const none = [
      [1, 2],
      [2, 1],
    ];
    expect(fitGeneralised([1, 2], [[1, 1]], flat(none))).toBeUndefined();
  });
});

describe('the density of observations with free terms', () => {
  it('is the normal density of the widened covariance', () => {
    const whitening = makeWhitening(flat(COVARIANCE))!;
    const free = [
      [0.5, 0.5, 0.5, 0.5],
      [0, 0.3, 0.6, 1.2],
    ];
    const G = new Matrix(free).transpose();
    const wide = Matrix.add(new Matrix(COVARIANCE), G.mmul(G.transpose()));
    const y = Matrix.columnVector(READINGS);
    const square = y.transpose().mmul(inverse(wide)).mmul(y).get(0, 0);
    const expected = -0.5 * (square + Math.log(mlDeterminant(wide)) + 4 * Math.log(2 * Math.PI));
    const columns = free.map((one) => whitening.white(one));
    const { logDeterminant } = whitening;
    const white = whitening.white(READINGS);
    expect(logDensityWhitened(white, columns, logDeterminant)).toBeCloseTo(expected, 12);
  });
});
