import { describe, expect, it } from 'vitest';
import { judge } from '../../../src/correction/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

function verdictOf(what: string, valueMmPerM: number, UMmPerM: number, limit?: number) {
  const measurement = makeMeasurement({
    squareness: estimate(valueMmPerM * 1e-3, UMmPerM * 1e-3, 'rad'),
  });
  const machine = limit === undefined ? undefined : { limits: { squareness: limit } };
  return judge(measurement, machine).find((verdict) => verdict.what === what);
}

describe('a verdict by ISO 14253-1', () => {
  it('is inside only where value and U together stay within the limit', () => {
    expect(verdictOf('squareness', 0.25, 0.1, 0.4)?.verdict).toBe('inside');
    expect(verdictOf('squareness', -0.25, 0.1, 0.4)?.verdict).toBe('inside');
    expect(verdictOf('squareness', 0.25, 0.1, 0.3)?.verdict).toBe('cannot tell');
  });

  it('is outside only where the value exceeds the limit by more than U', () => {
    expect(verdictOf('squareness', 0.5, 0.1, 0.3)?.verdict).toBe('outside');
    expect(verdictOf('squareness', -0.5, 0.1, 0.3)?.verdict).toBe('outside');
    expect(verdictOf('squareness', 0.35, 0.1, 0.3)?.verdict).toBe('cannot tell');
  });

  it('names its limit with the unit, and 0.2 mm/m where the machine file has none', () => {
    expect(verdictOf('squareness', 0.5, 0.1)).toMatchObject({ limit: 0.2, unit: 'mm/m' });
    const lost = judge(makeMeasurement(), undefined).find(({ what }) => what === 'lostMotion.y');
    // 0.14 - 0.006 > 0.05 mm
    expect(lost).toMatchObject({ limit: 0.05, unit: 'mm', verdict: 'outside' });
  });

  it('keeps the common limit of a quantity for which the machine file gives none', () => {
    const verdicts = judge(makeMeasurement(), { limits: { scale: 2 } });
    expect(verdicts.map(({ what, limit }) => [what, limit])).toEqual([
      ['squareness', 0.2],
      ['scale.x', 2],
      ['scale.y', 2],
      ['lostMotion.x', 0.05],
      ['lostMotion.y', 0.05],
      ['straightness.x', 0.1],
      ['straightness.y', 0.1],
    ]);
  });

  it('is never given on an undetermined quantity; it says what to add', () => {
    const measurement = makeMeasurement({ squareness: UNDETERMINED });
    const [squareness] = judge(measurement, undefined);
    expect(squareness?.verdict).toBe('cannot tell');
    expect(squareness?.why).toContain('undetermined');
    expect(squareness?.why).toContain('tape one distance between two crossings');
  });

  it('is never given on a weak quantity, however far from the limit it stands', () => {
    const weak = { state: 'weak', reason: 'one photo only', add: ['add photos'] } as const;
    for (const value of [0, 5e-3]) {
      const squareness = estimate(value, 1e-5, 'rad', { ...weak, add: [...weak.add] });
      const [verdict] = judge(makeMeasurement({ squareness }), undefined);
      expect(verdict?.verdict).toBe('cannot tell');
      expect(verdict?.why).toContain('add photos');
    }
  });

  it('that cannot be told names what would tell, by the largest share of the uncertainty', () => {
    const scale = makeMeasurement().scale;
    const share = { photos: 0.1, marks: 0.1, evidence: 0.7, camera: 0.1 };
    const x = estimate(0.2e-3, 0.1e-3, '1', { share });
    const verdict = judge(makeMeasurement({ scale: { ...scale, x } }), undefined)[1];
    expect(verdict).toMatchObject({ what: 'scale.x', verdict: 'cannot tell' });
    expect(verdict?.why).toMatch(/tape a longer length/);
  });
});
