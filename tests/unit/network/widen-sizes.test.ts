import { describe, expect, it } from 'vitest';
import type { Network, NetworkState } from '../../../src/network/network.js';
import { ParameterTable } from '../../../src/network/parameter-table.js';
import { widenSizes } from '../../../src/network/variance-components.js';

/** One group of coefficients that the data fix but for a share of their prior variance. */
function widened(values: readonly number[], size: number, shareOfPrior = 0): number {
  const table = new ParameterTable();
  values.forEach((_, i) => {
    table.add(`line ${i}`, 'machine', 0, size);
  });
  const n = values.length;
  const covariance = new Float64Array(n * n);
  for (let p = 0; p < n; p++) covariance[p * n + p] = shareOfPrior * size ** 2;
  const state = { values: Float64Array.from(values) } as unknown as NetworkState;
  widenSizes({ table } as unknown as Network, [values.map((_, i) => i)], state, {
    covariance,
    priorWeight: new Float64Array(n).fill(1 / size ** 2),
    information: new Float64Array(n * n),
  });
  return table.list[0]!.priorSigma;
}

describe('the size of a shape in the final covariance', () => {
  it("is that of Student's t where it was estimated from ten coefficients", () => {
    // JCGM 101:2008, 6.4.9.4: variance ν / (ν - 2) times the square of the scale; ν = 10 by hand: 1.25.
    const tens = [1, -1, 1, -1, 1, -1, 1, -1, 1, -1].map((sign) => 0.02 * sign);
    expect(widened(tens, 0.02)).toBeCloseTo(0.02 * Math.sqrt(1.25), 12);
  });

  it('stays where fewer than four coefficients told it', () => {
    expect(widened([0.02, -0.02, 0.02], 0.02)).toBe(0.02);
    expect(widened([0.02, -0.02, 0.02, -0.02], 0.02)).toBeCloseTo(0.02 * Math.SQRT2, 12);
  });

  it('stays where none is believed to be smaller, and where the data hardly tell it', () => {
    expect(widened([1e-3, -1e-3, 1e-3, -1e-3, 1e-3], 0.02)).toBe(0.02);
    expect(widened([0.02, -0.02, 0.02], 0.02, 0.9)).toBe(0.02);
  });
});
