/** Places of one bed held against each other. */
import { describe, expect, it } from 'vitest';
import { compareRegions } from '../../../src/comparison/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { regionsText } from '../../../src/report/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const place = (mmPerM: number, U = 0.02) => ({
  file: `place ${mmPerM}`,
  measurement: makeMeasurement({ squareness: estimate(mmPerM * 1e-3, U * 1e-3, 'rad') }),
});
const squarenessOf = (...files: ReturnType<typeof place>[]) =>
  unwrap(compareRegions(files)).quantities.find(({ what }) => what === 'squareness')!;

describe('places of one bed', () => {
  it('agree where they scatter as their uncertainties say, with the mean weighted by 1/u²', () => {
    // u 0.01, 0.01, 0.02: weights 4, 4, 1; mean (4·0.40 + 4·0.42 + 0.43)/9 = 0.4122.
    const told = squarenessOf(place(0.4), place(0.42), place(0.43, 0.04));
    expect(told.verdict).toBe('agrees');
    expect(told.mean!.value * 1e3).toBeCloseTo(0.41222, 5);
    // 1/√(1e4·(1 + 1 + 1/4)) = 0.0066667.
    expect(told.mean!.u * 1e3).toBeCloseTo(1 / 150, 9);
    // (0.0122² + 0.0078²)/0.01² + 0.0178²/0.02² = 2.889.
    expect(told.chiSquared).toBeCloseTo(2.8889, 3);
    // Two degrees of freedom: exp(-χ²/2).
    expect(told.p).toBeCloseTo(Math.exp(-2.8889 / 2), 4);
  });

  it('differ where they scatter by more', () => {
    // ±0.05 at u = 0.01: χ² = 50, one degree of freedom.
    expect(squarenessOf(place(0.4), place(0.5))).toMatchObject({
      verdict: 'differs from place to place',
    });
    expect(squarenessOf(place(0.4), place(0.5)).chiSquared).toBeCloseTo(50, 9);
  });

  it('leave open what fewer than two tell', () => {
    const open = {
      file: 'open',
      measurement: makeMeasurement({ squareness: UNDETERMINED }),
    };
    const told = squarenessOf(place(0.4), open);
    expect(told.verdict).toBe('cannot tell');
    expect(told).not.toHaveProperty('mean');
  });

  it('of another machine are refused unless forced', () => {
    const other = {
      file: 'other',
      measurement: makeMeasurement({ machine: 'Another router' }),
    };
    expect(compareRegions([place(0.4), other]).ok).toBe(false);
    expect(compareRegions([place(0.4), other], true).ok).toBe(true);
  });

  it('are told with the one that differs first, in capitals', () => {
    const regions = unwrap(compareRegions([place(0.4), place(0.5)]));
    const text = regionsText(regions, { units: 'mm', colour: false, width: 80 });
    expect(text).toMatch(/^Test router: squareness differs from place to place\n/);
    expect(text).toContain('squareness: DIFFERS from place to place (chance below 0.001)');
    expect(text).toContain(' 2  0.500 ± 0.020 mm/m');
  });
});
