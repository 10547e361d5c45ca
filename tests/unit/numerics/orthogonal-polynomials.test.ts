import { describe, expect, it } from 'vitest';
import { orthogonalPolynomials } from '../../../src/numerics/index.js';

describe('polynomials over weighted places', () => {
  const places = [0, 1, 2.5, 4];
  const weights = [1, 3, 0.5, 2];
  const shapes = orthogonalPolynomials(places, 3, weights);
  const product = (j: number, k: number) =>
    places.reduce(
      (sum, at, i) => sum + weights[i]! * shapes.evaluate(j, at) * shapes.evaluate(k, at),
      0,
    );

  it('are orthogonal with respect to the weights, and of weighted mean square 1', () => {
    for (let j = 0; j <= 3; j += 1) {
      for (let k = 0; k <= 3; k += 1) expect(product(j, k)).toBeCloseTo(j === k ? 6.5 : 0, 9);
    }
  });

  it('are those without weights where all weigh alike', () => {
    const plain = orthogonalPolynomials(places, 3);
    const alike = orthogonalPolynomials(places, 3, [7, 7, 7, 7]);
    for (let k = 0; k <= 3; k += 1) {
      for (const at of places) {
        expect(alike.evaluate(k, at)).toBeCloseTo(plain.evaluate(k, at), 9);
      }
    }
  });

  it('worked by hand: a place that weighs three times draws the mean toward itself', () => {
    // Places 0 and 4, weights 3 and 1: mean 1; deviations −1 and 3 of mean square (3 + 9) / 4 = 3.
    const line = orthogonalPolynomials([0, 4], 1, [3, 1]);
    expect(line.evaluate(1, 0)).toBeCloseTo(-1 / Math.sqrt(3), 12);
    expect(line.evaluate(1, 4)).toBeCloseTo(3 / Math.sqrt(3), 12);
  });

  it('have no more degrees than places carry', () => {
    expect(orthogonalPolynomials([0, 1, 5], 6).degree).toBe(2);
    expect(orthogonalPolynomials([0, 1, 5], 1).degree).toBe(1);
    const single = orthogonalPolynomials([7], 3);
    expect(single.degree).toBe(0);
    expect(single.evaluate(0, 9)).toBe(1);
  });
});
