import { describe, expect, it } from 'vitest';
import { createRandomSource } from '../../../samples/random-source.js';
import { estimateAmplitude } from '../../../src/network/estimate-amplitude.js';

describe('the amplitude of a wave', () => {
  it('of cosine 3 and sine 4 with next to no noise is 5', () => {
    const { value, u } = estimateAmplitude(3, 4, { cc: 1e-12, ss: 1e-12, cs: 0 });
    expect(value).toBeCloseTo(5, 9);
    expect(u).toBeCloseTo(1e-6, 9);
  });

  it('that noise alone explains is zero', () => {
    expect(estimateAmplitude(0.9, -1, { cc: 1, ss: 1, cs: 0 }).value).toBe(0);
  });

  it('is uncertain by the direction that is known worst', () => {
    // Variances 9 along the diagonal (1, 1) and 1 across it.
    const { u, worst } = estimateAmplitude(300, 400, { cc: 5, ss: 5, cs: 4 });
    expect(u).toBeCloseTo(3, 3);
    expect(Math.abs(worst[0])).toBeCloseTo(Math.SQRT1_2, 12);
    expect(worst[0]).toBeCloseTo(worst[1], 12);
  });

  // Of 20 000 draws the share is known to within 0.4 % (two sigmas).
  it.each([0, 1, 2, 2.5, 3, 3.5, 4, 6, 20])(
    'of %d standard uncertainties lies within U of the value in 94 to 99 of 100 draws',
    (truth) => {
      const random = createRandomSource(11).fork(`amplitude ${truth}`);
      const draws = 20_000;
      let inside = 0;
      for (let i = 0; i < draws; i += 1) {
        const cosine = 0.6 * truth + random.normal();
        const sine = 0.8 * truth + random.normal();
        const { value, u } = estimateAmplitude(cosine, sine, { cc: 1, ss: 1, cs: 0 });
        if (Math.abs(value - truth) <= 2 * u) inside += 1;
      }
      expect(inside / draws).toBeGreaterThan(0.94);
      expect(inside / draws).toBeLessThan(0.99);
    },
  );
});
