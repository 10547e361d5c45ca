import { describe, expect, it } from 'vitest';
import type { DeviationRecord, Measurement } from '../../../shared/schemas/measurement.js';
import { COMPENSATED_TERMS, chooseTerms } from '../../../src/compensation/choose-terms.js';
import { deviationTable } from '../../../src/compensation/deviation-table.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const ALL = new Set(COMPENSATED_TERMS);

function choose(changes: Partial<Measurement> = {}, wanted = ALL) {
  const chosen = chooseTerms(makeMeasurement(changes), wanted);
  return {
    ...chosen,
    names: chosen.used.map(({ what }) => what),
    why: (what: string) => chosen.leftOut.find((one) => one.what === what)?.why,
  };
}

describe('the errors that are taken out', () => {
  it('are those measured and larger than their uncertainty, with their signs', () => {
    const { terms, names } = choose();
    expect(terms.squarenessRad).toBe(0.85e-3);
    expect([terms.scaleX, terms.scaleY]).toEqual([1.3e-3, -0.1e-3]);
    expect(names).toEqual(['squareness', 'scale X', 'scale Y']);
  });

  it('are none that are weak or undetermined; each is named with its reason and what to add', () => {
    const weak = estimate(0.9e-3, 0.5e-3, 'rad', {
      state: 'weak',
      reason: 'camera priors',
      add: ['one more photo'],
    });
    const { terms, names, leftOut, why } = choose({ squareness: weak });
    expect(terms.squarenessRad).toBe(0);
    expect(names).not.toContain('squareness');
    expect(why('squareness')).toBe('weak: camera priors');
    expect(leftOut.find(({ what }) => what === 'squareness')?.add).toEqual(['one more photo']);
    expect(choose({ squareness: UNDETERMINED }).why('squareness')).toMatch(
      /^undetermined: no known/,
    );
  });

  it('are none that are smaller than their uncertainty', () => {
    const { terms, why } = choose({ squareness: estimate(-0.05e-3, 0.06e-3, 'rad') });
    expect(terms.squarenessRad).toBe(0);
    expect(why('squareness')).toBe('smaller than its uncertainty');
  });

  it('never hold lost motion, and say so', () => {
    expect(choose().why('lost motion')).toMatch(/remove it from the machine/);
  });

  it('are only those asked for', () => {
    const { terms, names, why } = choose({}, new Set(['squareness'] as const));
    expect(names).toEqual(['squareness']);
    expect([terms.scaleX, terms.scaleY]).toEqual([0, 0]);
    expect(why('scale')).toBe('not asked for');
  });

  it('hold half the ratio of the scales each way where no length is known', () => {
    const { terms, names } = choose({
      scale: { x: UNDETERMINED, y: UNDETERMINED, ratio: estimate(2e-3, 1e-4, '1') },
    });
    expect((1 + terms.scaleX) / (1 + terms.scaleY) - 1).toBeCloseTo(2e-3, 12);
    expect(terms.scaleX).toBeCloseTo(1e-3, 5);
    expect(terms.scaleY).toBeCloseTo(-1e-3, 5);
    expect(names).toContain('scale X : Y');
  });

  it('hold the other scale by the ratio where one of them is known', () => {
    const ratio = estimate(2e-3, 1e-4, '1');
    const { terms } = choose({ scale: { x: estimate(1e-3, 1e-4, '1'), y: UNDETERMINED, ratio } });
    expect(terms.scaleX).toBe(1e-3);
    expect((1 + terms.scaleX) / (1 + terms.scaleY) - 1).toBeCloseTo(2e-3, 12);
  });

  it('hold a scale below its uncertainty where the ratio of both is above it', () => {
    const { terms } = choose({
      scale: {
        x: estimate(0.3e-3, 0.5e-3, '1'),
        y: estimate(-0.2e-3, 0.5e-3, '1'),
        ratio: estimate(0.5e-3, 0.02e-3, '1'),
      },
    });
    expect([terms.scaleX, terms.scaleY]).toEqual([0.3e-3, -0.2e-3]);
  });
});

describe('the table of positions', () => {
  const record = (commanded: number, deviation: number, more: Partial<DeviationRecord> = {}) => ({
    ...{ placement: 0, axis: 'x' as const, commanded, u: 0.004 },
    ...{ forward: deviation - 0.05, reverse: deviation + 0.05 },
    ...more,
  });
  /** A zigzag has neither mean nor slope over five lines like these. */
  const ZIGZAG = [0.04, -0.04, 0, -0.04, 0.04];
  const lines = (shape: (at: number, k: number) => Partial<DeviationRecord> = () => ({})) =>
    ZIGZAG.map((value, k) => record(100 * k, value + 0.2 + 0.001 * 100 * k, shape(100 * k, k)));
  const tableOf = (deviations: DeviationRecord[], changes: Partial<Measurement> = {}) =>
    deviationTable(makeMeasurement({ deviations, ...changes }), 'x');

  it('is the middle of both approaches less the straight line through all of them', () => {
    const table = tableOf(lines());
    if ('why' in table) throw new Error(table.why);
    expect(table.entries.map(({ at }) => at)).toEqual([0, 100, 200, 300, 400]);
    table.entries.forEach(({ value }, k) => {
      expect(value).toBeCloseTo(ZIGZAG[k]!, 12);
    });
  });

  it('takes lost motion off where a line was approached from one side only', () => {
    const oneSided = lines((_, k) =>
      k % 2 === 0 ? { reverse: undefined } : { forward: undefined },
    );
    const lostMotion = { x: estimate(0.1, 0.004, 'mm'), y: UNDETERMINED };
    const table = tableOf(oneSided, { lostMotion });
    if ('why' in table) throw new Error(table.why);
    table.entries.forEach(({ value }, k) => {
      expect(value).toBeCloseTo(ZIGZAG[k]!, 12);
    });
    expect(tableOf(oneSided, { lostMotion: { x: UNDETERMINED, y: UNDETERMINED } })).toMatchObject({
      why: expect.stringContaining('lost motion is not known'),
    });
  });

  it('leaves rungs out, which were marked at another time', () => {
    const table = tableOf([...lines(), record(50, 9, { rung: true })]);
    if ('why' in table) throw new Error(table.why);
    expect(table.entries).toHaveLength(5);
  });

  it('is none where it is no larger than its uncertainty, or has too few lines', () => {
    const noisy = lines(() => ({ u: 0.06 }));
    expect(tableOf(noisy)).toMatchObject({ why: 'no larger than its uncertainty' });
    expect(tableOf(lines().slice(0, 2))).toMatchObject({
      why: expect.stringContaining('deviations'),
    });
  });
});
