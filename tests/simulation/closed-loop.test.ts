/**
 * Measured, corrected as proposed, marked and measured again: gantries along Y and X and tables that move, both
 * homing directions. The bench of the same name prints the table of 50 machines.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { type Corrected, closeLoop, plainness } from './closed-loop.js';

const MACHINES = 12;
/** Of 60 intervals of 95 %: 52 are three standard deviations (1.7) and a half low. */
const LEAST_INSIDE = 0.87;
/**
 * Swapped, a correction of twice U of the change stays within U of no change in one case of forty, of two and a
 * half times in one of seven hundred.
 */
const PLAIN = 2.5;

let all: Corrected[] = [];
let proposed: Corrected[] = [];

beforeAll(() => {
  all = Array.from({ length: MACHINES }, (_, i) => closeLoop(501 + i)).flat();
  proposed = all.filter(({ proposal }) => !proposal.leaveAlone);
}, 300_000);

function U(quantity: Corrected['before']): number {
  return quantity.state === 'undetermined' ? Number.POSITIVE_INFINITY : quantity.U;
}

describe(`${MACHINES} machines set right as proposed`, () => {
  it('are told every quantity, and most have something to set right', () => {
    expect(all).toHaveLength(5 * MACHINES);
    expect(all.every(({ before }) => before.state === 'measured')).toBe(true);
    expect(proposed.length).toBeGreaterThan(2.5 * MACHINES);
    const ways = proposed
      .map(({ proposal }) => proposal)
      .filter(({ what }) => what === 'squareness');
    const told = ways.map(({ side, why }) => `${side} ${why}`).join('\n');
    for (const way of [/homes toward −X/, /homes toward \+Y/, /Y guide/]) {
      expect(told).toMatch(way);
    }
  });

  it('are then true within U, or inside the limit where left alone', () => {
    const isWell = ({ proposal, truthAfter, before, limit }: Corrected) =>
      Math.abs(truthAfter) <= (proposal.leaveAlone ? Math.max(limit, U(before)) : U(before));
    expect(all.filter(isWell).length / all.length).toBeGreaterThanOrEqual(LEAST_INSIDE);
  });

  it('are measured again within the root of the sum of squares of both U', () => {
    const isWell = ({ before, after }: Corrected) =>
      after.state === 'measured' && Math.abs(after.value) <= Math.hypot(U(before), U(after));
    const inside = proposed.filter(isWell).length / proposed.length;
    expect(inside).toBeGreaterThanOrEqual(LEAST_INSIDE);
  });

  it('are worse for none of it', () => {
    const worse = proposed.filter(
      ({ truthBefore, truthAfter }) => Math.abs(truthAfter) > Math.abs(truthBefore),
    );
    expect(worse).toEqual([]);
  });

  it('are never told to have moved the wrong way, and mostly to have done what was proposed', () => {
    const verdicts = proposed.map(({ compared }) => compared.verdict);
    expect(verdicts).not.toContain('moved the wrong way');
    const plain = proposed.filter((one) => plainness(one) > PLAIN);
    const done = plain.filter(({ compared }) => compared.verdict === 'did what was proposed');
    expect(done.length / plain.length).toBeGreaterThanOrEqual(LEAST_INSIDE);
  });
});

describe('the same machines, every sign or side swapped', () => {
  it('are told to have moved the wrong way wherever the correction shows', () => {
    const plain = proposed.filter((one) => plainness(one) > PLAIN);
    expect(plain.length).toBeGreaterThan(2 * MACHINES);
    for (const { machine, what, swapped } of plain) {
      expect(swapped.verdict, `${what} of machine ${machine}`).toBe('moved the wrong way');
      expect(swapped.why).toContain('sign or side swapped');
    }
  });

  it('are nowhere told to have done what was proposed', () => {
    for (const { swapped } of proposed) {
      expect(swapped.verdict).not.toBe('did what was proposed');
    }
  });
});
