import { describe, expect, it } from 'vitest';
import { type LeastSquares, minimise, NormalEquations } from '../../../src/numerics/index.js';

/** The square of what is missing to 3; worked by hand, since the normal equations are 1 · dx = 3 - x. */
function missing(isAllowed: (x: number) => boolean = () => true): LeastSquares<number, number> {
  return {
    linearise: (x) => 3 - x,
    cost: (left, x) => (isAllowed(x) ? left ** 2 : Number.NaN),
    normal: (left) => {
      const system = new NormalEquations(1);
      system.matrix[0] = 1;
      system.rightSide[0] = left;
      return system;
    },
    stepped: (x, [step]) => x + step!,
  };
}

describe('a minimum', () => {
  it('of a straight problem is reached in one step, and known as such in the next', () => {
    const found = minimise(missing(), 0, { tolerance: 1e-9, mostSteps: 20 });
    expect(found).toMatchObject({ steps: 2, end: 'settled' });
    expect(found.state).toBeCloseTo(3, 12);
    expect(found.linearised).toBe(3 - found.state);
    expect(found.cost).toBe(found.linearised ** 2);
  });

  it('that the steps do not suffice for is told as unfinished, with what the last one gained', () => {
    const found = minimise(missing(), 0, { tolerance: 1e-9, mostSteps: 1 });
    expect(found).toMatchObject({ steps: 1, end: 'unfinished' });
    expect(found.lastFall).toBeCloseTo(9, 9);
  });

  it('that no step leads to stays at its start', () => {
    const stuck = missing((x) => x === 0);
    const found = minimise(stuck, 0, { tolerance: 1e-9, mostSteps: 20 });
    expect(found).toMatchObject({ state: 0, cost: 9, steps: 1, end: 'rounding' });
  });

  it('is approached in shorter steps where a full one leads to where nothing makes sense', () => {
    const found = minimise(
      missing((x) => x <= 2.5),
      0,
      { tolerance: 1e-9, mostSteps: 60 },
    );
    expect(found.state).toBeGreaterThan(2);
    expect(found.state).toBeLessThanOrEqual(2.5);
    expect(found.end).not.toBe('unfinished');
  });
});
