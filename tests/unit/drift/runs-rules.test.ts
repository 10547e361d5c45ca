import { describe, expect, it } from 'vitest';
import { ewmaChart } from '../../../src/drift/control-charts.js';
import { runsSignals } from '../../../src/drift/runs-rules.js';

const rulesOf = (deviations: readonly number[]) =>
  runsSignals(deviations).map(({ rule, at }) => `${rule} at ${at}`);

// Each pattern by itself, as the tests of Nelson (1984) are drawn.
describe('the runs rules', () => {
  it('see a value beyond three sigma', () => {
    expect(rulesOf([0.1, -0.2, 3.2, 0.1])).toEqual(['beyond at 2']);
    expect(rulesOf([0.1, -3.2])).toEqual(['beyond at 1']);
  });

  it('see two of three beyond two sigma on one side, not on both', () => {
    expect(rulesOf([2.1, 0.3, 2.4])).toEqual(['two of three at 2']);
    expect(rulesOf([2.1, 0.3, -2.4])).toEqual([]);
    expect(rulesOf([2.1, 0.3, -0.3, 2.4])).toEqual([]);
  });

  it('see four of five beyond one sigma on one side', () => {
    expect(rulesOf([1.2, 1.4, -0.2, 1.1, 1.3])).toEqual(['four of five at 4']);
    expect(rulesOf([1.2, 1.4, -0.2, 1.1, 0.8])).toEqual([]);
  });

  it('see nine in a row on one side, from the ninth on', () => {
    const eight = [0.1, 0.5, 0.2, 0.6, 0.1, 0.4, 0.3, 0.5];
    expect(rulesOf(eight)).toEqual([]);
    expect(rulesOf([...eight, 0.2, 0.4])).toEqual(['one side at 8', 'one side at 9']);
    expect(rulesOf([...eight, -0.2])).toEqual([]);
  });

  it('see six that steadily rise or fall', () => {
    expect(rulesOf([-0.8, -0.5, -0.1, 0.2, 0.5, 0.9])).toEqual(['steadily at 5']);
    expect(rulesOf([0.8, 0.5, 0.1, -0.2, -0.5, -0.9])).toEqual(['steadily at 5']);
    expect(rulesOf([-0.8, -0.5, -0.1, -0.1, 0.5, 0.9])).toEqual([]);
  });
});

describe('the moving average', () => {
  it('with all weight on the newest value is the chart of single values', () => {
    const points = ewmaChart([3, -1], { weight: 1, centre: 0, sigma: 2, sigmas: 3 });
    expect(points).toEqual([
      { average: 3, reach: 6 },
      { average: -1, reach: 6 },
    ]);
  });
});
