import { describe, expect, it } from 'vitest';
import { positionDeviation } from '../../src/fixture/index.js';

const EXACT = [0, 0, 0] as const;

/**
 * Figures of two public pages, read 2026-11: "True position", calhub.xyz/construction/true-position (x 0.1, y 0.15 gives
 * a diameter of 0.3606), and "How do you calculate position tolerance?", microcomputing.netlify.app/page/346 (0.15 and
 * 0.00 give 0.30; against 0.25 the part is rejected). Neither is a standard; the last case is worked by hand.
 */
describe('position deviation, 2·√(dx² + dy²)', () => {
  it('is 0.3606 for 0.1 and 0.15', () => {
    expect(positionDeviation([0.1, 0.15], EXACT).deviation.value).toBeCloseTo(0.3606, 4);
  });

  it('is 0.30 for 0.15 and 0.00, outside a zone of 0.25', () => {
    const { deviation, verdict } = positionDeviation([0.15, 0], EXACT, 0.25);
    expect(deviation.value).toBeCloseTo(0.3, 12);
    expect(verdict).toBe('outside');
  });

  it('by hand: 0.06 and 0.08 lie 0.10 off, 0.20 on the diameter; with u 0.01 along and 0.02 across, U is 0.04', () => {
    // Along (0.6, 0.8): u² = 0.01² · 1 + nothing of the direction across; twice for the diameter, twice for k.
    const [along, across] = [0.01 ** 2, 0.02 ** 2];
    const covariance = [
      0.36 * along + 0.64 * across,
      0.48 * (along - across),
      0.64 * along + 0.36 * across,
    ] as const;
    const { deviation } = positionDeviation([0.06, 0.08], covariance, 0.25);
    expect(deviation.value).toBeCloseTo(0.2, 12);
    expect(deviation.U).toBeCloseTo(0.04, 12);
  });

  it('is inside, outside or open after ISO 14253-1: U counts against whoever claims', () => {
    const verdictOf = (tolerance: number) =>
      positionDeviation([0.06, 0.08], [1e-4, 0, 1e-4], tolerance).verdict;
    // 0.20 ± 0.04.
    expect(verdictOf(0.241)).toBe('inside');
    expect(verdictOf(0.239)).toBe('cannot tell');
    expect(verdictOf(0.161)).toBe('cannot tell');
    expect(verdictOf(0.159)).toBe('outside');
  });
});
