/**
 * The intervals hold the truth as often as they promise, for cameras that are as is believed of them. The
 * whole table, 200 boards for each of eight sets of photos, is printed by the bench of the same name.
 */
import { describe, expect, it } from 'vitest';
import { COVERAGE_PLANS, measureDrawnBoard, tabulate, type Verdict } from './coverage.js';

const BOARDS = 24;
/** Of 216 intervals of 95 % each, two thirds of them independent: 90 % is three and a half sigma low. */
const LEAST_INSIDE = 0.9;

for (const [name, least] of [
  ['two, a quarter turn apart', LEAST_INSIDE],
  ['four rolls', LEAST_INSIDE],
  ['eight partial views', LEAST_INSIDE],
] as const) {
  describe(`${BOARDS} boards, ${name}`, () => {
    const boards: Verdict[][] = [];
    const told = () => boards.flat().filter(({ state }) => state !== 'undetermined');

    it('all have a solution, and tell every quantity', { timeout: 300_000 }, () => {
      for (let seed = 301; seed < 301 + BOARDS; seed++) {
        boards.push(measureDrawnBoard(COVERAGE_PLANS[name]!, seed));
      }
      expect(boards.every((board) => board.length === 9)).toBe(true);
      expect(told()).toHaveLength(9 * BOARDS);
    });

    it('hold the truth in nine of ten intervals and more, not in all', () => {
      const inside = told().filter(({ error, u }) => Math.abs(error) <= 1.96 * u).length;
      expect(inside / told().length).toBeGreaterThanOrEqual(least);
      expect(inside / told().length).toBeLessThan(0.995);
    });

    it('are as wide as the errors are large', () => {
      for (const { quantity, honesty } of tabulate(boards)) {
        // Of 24 boards a scatter is known to 15 %; three sigma each way.
        expect(honesty, quantity).toBeGreaterThan(0.6);
        expect(honesty, quantity).toBeLessThan(1.9);
      }
    });
  });
}
