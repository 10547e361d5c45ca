/** Figures that others published of tapes, rules and thermal expansion; the source stands beside each. */
import { describe, expect, it } from 'vitest';
import type { Estimate } from '../../shared/schemas/measurement.js';
import { EXPANSION } from '../../shared/thermal-expansion.js';
import { unwrap } from '../../src/quantity/index.js';
import { buildEvidence, permissibleTapeError } from '../../src/survey/build-evidence.js';
import { boardSwell, reduceTo20, standardStretch } from '../../src/survey/thermal-expansion.js';

describe('the maximum permissible error of material measures of length', () => {
  // Directive 2014/32/EU, annex X (MI-008), chapter I, as reproduced in UK SI 2016/1153, schedule 1I:
  // a + b L, L rounded up to the next whole metre.
  const TABLE = [
    [0.3, 0.2, 0.5, 1.0],
    [1, 0.2, 0.5, 1.0],
    [1.2, 0.3, 0.7, 1.4],
    [2, 0.3, 0.7, 1.4],
    [3, 0.4, 0.9, 1.8],
    [5, 0.6, 1.3, 2.6],
    [8, 0.9, 1.9, 3.8],
    [10, 1.1, 2.3, 4.6],
  ] as const;
  it.each(TABLE)('of %d m is that of the table for classes I, II and III', (metres, ...mpe) => {
    const found = (['I', 'II', 'III'] as const).map((c) => permissibleTapeError(c, metres * 1000));
    found.forEach((value, k) => {
      expect(value).toBeCloseTo(mpe[k], 12);
    });
  });

  it('steps up just above a whole metre', () => {
    expect(permissibleTapeError('II', 2000)).toBeCloseTo(0.7, 12);
    expect(permissibleTapeError('II', 2001)).toBeCloseTo(0.9, 12);
  });
});

describe('steel rules', () => {
  // DIN 866 (values from memory): form A ±(20 + L/50) µm, form B ±(50 + L/20) µm; 1000 mm: 40 and 100 µm.
  it.each([
    ['A', 40],
    ['B', 100],
  ] as const)('of form %s may be off by %d µm over a metre', (ruleClass, permissibleUm) => {
    const rule = { photo: 'p.jpg', from: [1, 1], to: [2, 1], length: 1000, class: ruleClass };
    const file = { temperature: 20, rules: [{ ...rule, material: 'steel', temperature: 20 }] };
    const [built] = unwrap(buildEvidence([], file as never, undefined)).rules;
    // Rectangular (GUM 4.3.7), and one kelvin of steel (rectangular as well).
    const expected = Math.hypot(permissibleUm * 1e-6, 11.7e-6) / Math.sqrt(3);
    expect(built!.ruleScaleU).toBeCloseTo(expected, 9);
  });
});

describe('thermal expansion', () => {
  // Callister, table B.6: steel 11.7e-6/K, aluminium alloy 6061 23.6e-6/K. The sums are theirs, worked by hand.
  it('of steel and aluminium from 20 to 30 °C over 1.2 m is 0.1404 mm and 0.2832 mm', () => {
    expect(1200 * (boardSwell('steel', 20, 30).factor - 1)).toBeCloseTo(0.1404, 9);
    expect(1200 * (boardSwell('aluminium', 20, 30).factor - 1)).toBeCloseTo(0.2832, 9);
    const difference = EXPANSION.aluminium.perK - EXPANSION.steel.perK;
    expect(1200 * 10 * difference).toBeCloseTo(0.1428, 9);
  });

  it('makes a steel tape at 30 °C read 117 ppm short', () => {
    const { factor } = standardStretch('steel', 30);
    expect(factor - 1).toBeCloseTo(117e-6, 12);
  });

  it('of gauge steel is 11.5e-6/K (JCGM 100:2008, H.1)', () => {
    expect(standardStretch('gauge steel', 21).factor - 1).toBeCloseTo(11.5e-6, 15);
  });

  it('brings a scale at 30 °C to 20 °C by the expansion of its screw', () => {
    const scale: Estimate = { value: 0, unit: '1', u: 0, k: 2, U: 0, state: 'measured' };
    const { value, u } = reduceTo20(scale, 'steel', 30);
    expect(value).toBeCloseTo(-117e-6, 7);
    // ±10 % of the coefficient and ±1 K, both rectangular: √(11.7² + 11.7²) ppm / √3.
    expect(u).toBeCloseTo((11.7e-6 * Math.SQRT2) / Math.sqrt(3), 9);
  });
});
