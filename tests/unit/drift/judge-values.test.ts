import { describe, expect, it } from 'vitest';
import { createRandomSource } from '../../../samples/random-source.js';
import { judgeValues } from '../../../src/drift/judge-values.js';

const WEEK = 7;

/** Weekly values of unit noise about a course. */
function weekly(n: number, course: (week: number) => number, seed: number, u = 1) {
  const random = createRandomSource(seed);
  const weeks = Array.from({ length: n }, (_, i) => i);
  return {
    days: weeks.map((week) => WEEK * week),
    values: weeks.map((week) => course(week) + random.normal()),
    u: weeks.map(() => u),
  };
}

describe('a stretch of values', () => {
  it('of pure noise is nothing but measuring noise', () => {
    for (let seed = 1; seed <= 40; seed++) {
      expect(judgeValues(weekly(30, () => 5, seed))?.verdict, `seed ${seed}`).toBe('steady');
    }
  });

  it('that climbs by a fifth of its noise a week drifts, by about that', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const judged = judgeValues(weekly(40, (week) => 0.2 * week, seed))!;
      expect(judged.verdict, `seed ${seed}`).toBe('drifts');
      // Standard deviation of the slope: 1/√(n³/12) = 0.0137 a week; four of them.
      expect(Math.abs(judged.robust.slope * WEEK - 0.2)).toBeLessThan(0.055);
    }
  });

  it('that stands elsewhere from the 18th on has jumped then, by about as much', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const judged = judgeValues(weekly(30, (week) => (week < 17 ? 0 : 6), seed))!;
      expect(judged.verdict, `seed ${seed}`).toBe('jumped');
      expect(judged.jump!.at).toBe(17);
      // Two means of 17 and 13 values: u = 0.37; four of them.
      expect(Math.abs(judged.jump!.change - 6)).toBeLessThan(1.5);
    }
  });

  it('with one wild value neither drifts nor has jumped', () => {
    for (const wild of [0, 10, 29]) {
      const data = weekly(30, (week) => (week === wild ? 40 : 0), 3);
      expect(judgeValues(data)?.verdict, `at ${wild}`).toBe('scatters');
    }
  });

  it('that wanders five times as much as stated scatters', () => {
    expect(judgeValues(weekly(30, () => 0, 9, 0.2))?.verdict).toBe('scatters');
  });

  it('of fewer than three values, or all of one moment, is not judged', () => {
    expect(judgeValues({ days: [0, 1], values: [1, 2], u: [1, 1] })).toBeUndefined();
    expect(judgeValues({ days: [2, 2, 2], values: [1, 2, 3], u: [1, 1, 1] })).toBeUndefined();
  });

  it('of equal values is steady', () => {
    const days = [0, 7, 14, 21, 28, 35, 42, 49, 56, 63, 70];
    const judged = judgeValues({ days, values: days.map(() => 0.1), u: days.map(() => 0.01) });
    expect(judged?.verdict).toBe('steady');
  });

  it('of three values drifts only where the stated uncertainties cannot explain it', () => {
    const days = [0, 30, 60];
    const u = [0.1, 0.1, 0.1];
    expect(judgeValues({ days, values: [0, 1, 2], u })?.verdict).toBe('drifts');
    expect(judgeValues({ days, values: [0, 0.1, 0.2], u })?.verdict).toBe('steady');
  });
});
