import { describe, expect, it } from 'vitest';
import { type Fault, scoreFixtures, seedsFrom } from './simulated-fixtures.js';

/** Eight features, made to 0.02 mm and measured to 0.012 mm. */
const SEEDS = seedsFrom(1000, 120);

describe('simulated fixtures of eight features', () => {
  const faults: readonly Fault[] = [
    'nothing',
    'offset',
    'rotation',
    'bad dowel',
    'swollen',
    'machine skew',
    'doubled',
    'several bad',
  ];
  for (const fault of faults) {
    it(`${fault}: the cause is named right nine times in ten, and hardly ever wrong`, () => {
      const { right, trials, wrong, within, of } = scoreFixtures(fault, SEEDS);
      expect(right / trials).toBeGreaterThanOrEqual(0.9);
      const misnamed = Object.values(wrong).reduce((sum, one) => sum + one, 0);
      expect(misnamed / trials).toBeLessThanOrEqual(0.02);
      // Of 360 figures at 95 %, three standard deviations below.
      expect(within / of).toBeGreaterThanOrEqual(0.95 - 3 * Math.sqrt((0.95 * 0.05) / of));
    });
  }

  it('the bad dowel is found nineteen times in twenty', () => {
    const { culpritRight, trials } = scoreFixtures('bad dowel', SEEDS);
    expect(culpritRight / trials).toBeGreaterThanOrEqual(0.95);
  });

  it('of two features that are off from each other neither is blamed', () => {
    const { right, cannotTell, trials } = scoreFixtures('bad dowel', seedsFrom(1, 40), {
      features: 3,
    });
    // Of three features the distances of the other two from each other are all there is to go by.
    expect(right + cannotTell).toBeGreaterThanOrEqual(0.95 * trials);
  });
});
