import { describe, expect, it } from 'vitest';
import { foretellCrossing } from '../../../src/drift/foretell-crossing.js';
import { weightedLine } from '../../../src/drift/weighted-line.js';

/** 0, 1, 2 … a day apart, with residuals that a line leaves as they are. */
const days = [0, 1, 2, 3, 4, 5];
const residuals = [1, -1, -1, 1, 1, -1].map(
  (r, i) => 0.01 * (r - [1, 0.6, 0.2, -0.2, -0.6, -1][i]! * 0.2),
);

function foretell(slope: number, limit: number, stated = 0.01, offset = 0) {
  const values = days.map((day, i) => offset + slope * day + residuals[i]!);
  const line = weightedLine(
    days,
    values,
    days.map(() => stated),
  )!;
  return { ...foretellCrossing({ line, stated, limit, firstDay: 0, lastDay: 5 }), line };
}

describe('the day on which a limit is left', () => {
  it('is where the line meets it, within the days on which its band does', () => {
    const { state, atDay, earliestDay, latestDay, line } = foretell(0.1, 1);
    expect(state).toBe('expected');
    // By hand: level + slope (day - 2.5) = 1.
    expect(atDay).toBeCloseTo(2.5 + (1 - line.level) / line.slope, 9);
    expect(earliestDay!).toBeLessThan(atDay!);
    expect(latestDay!).toBeGreaterThan(atDay!);
  });

  it('has the ends of its interval where Fieller’s equation has its roots', () => {
    // Only scatter counts where the stated u is no larger: (limit - level - slope x)² = t² s² (1/6 + x²/17.5).
    const { earliestDay, latestDay, line } = foretell(0.1, 1, 0.005);
    const t = 2.776445; // Student, 4 degrees, 95 % (any table)
    const s = line.birge * 0.005;
    const a = line.slope ** 2 - (t * s) ** 2 / 17.5;
    const b = -2 * (1 - line.level) * line.slope;
    const c = (1 - line.level) ** 2 - (t * s) ** 2 / 6;
    const root = Math.sqrt(b * b - 4 * a * c);
    expect(earliestDay!).toBeCloseTo(2.5 + (-b - root) / (2 * a), 2);
    expect(latestDay!).toBeCloseTo(2.5 + (-b + root) / (2 * a), 2);
  });

  it('is later and earlier where all measurements share an uncertainty', () => {
    const [sharp, common] = [foretell(0.1, 1, 0.01), foretell(0.1, 1, 0.1)];
    expect(common.earliestDay!).toBeLessThan(sharp.earliestDay! - 1);
    expect(common.latestDay!).toBeGreaterThan(sharp.latestDay! + 1);
  });

  it('is the other limit for a falling line', () => {
    const { state, atDay } = foretell(-0.1, 1);
    expect(state).toBe('expected');
    expect(atDay!).toBeCloseTo(10, 0);
  });

  it('is not foretold far beyond what was watched', () => {
    expect(foretell(0.1, 5).state).toBe('far');
  });

  it('is past where the line is outside already', () => {
    expect(foretell(0.1, 0.3).state).toBe('beyond');
    expect(foretell(0.1, 0.3, 0.01, -2).state).toBe('beyond');
  });
});
