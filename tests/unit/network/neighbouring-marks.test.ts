/** Marks that resemble their neighbours along a line. */
import { describe, expect, it } from 'vitest';
import { createRandomSource } from '../../../samples/random-source.js';
import { adjust, type NetworkInput } from '../../../src/network/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { simulateNetwork } from '../../simulation/simulated-network.js';

const SIGMA_MARK_MM = 0.02;

/** Every mark lies where the mean of so many draws, its own and those of segments before it, puts it. */
function withWander(input: NetworkInput, draws: number, seed: number): NetworkInput {
  const random = createRandomSource(seed).fork('wander');
  const last = new Map<string, number[]>();
  const offsets = input.segments.map(({ axis, line }) => {
    const key = `${axis} ${line}`;
    const recent = [random.normal(), ...(last.get(key) ?? [])].slice(0, draws);
    while (recent.length < draws) recent.push(random.normal());
    last.set(key, recent);
    const sum = recent.reduce((total, one) => total + one, 0);
    return (SIGMA_MARK_MM * sum) / Math.sqrt(draws);
  });
  return {
    ...input,
    observations: input.observations.map((seen) => {
      const { axis, xMm, yMm } = input.segments[seen.segment];
      const off = offsets[seen.segment];
      const h = input.photos[seen.photo].homography;
      const at = (x: number, y: number) => {
        const w = h[6] * x + h[7] * y + h[8];
        return [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
      };
      const [u, v] = at(xMm, yMm);
      const [du, dv] = axis === 'x' ? at(xMm + off, yMm) : at(xMm, yMm + off);
      return { ...seen, uPx: seen.uPx + du - u, vPx: seen.vPx + dv - v };
    }),
  };
}

function adjusted(draws: number, seed: number) {
  const { input } = simulateNetwork({
    seed,
    sigmaPx: 0.02,
    sigmaMarkMm: 0,
    focalKnown: true,
    taped: false,
    scene: { rolls: [0, 90] },
  });
  return unwrap(adjust(withWander(input, draws, seed)));
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
const SEEDS = [1, 2, 3, 4];

describe('marks of a line', () => {
  it('that lie one as the other by chance alone count as they scatter', () => {
    const factors = SEEDS.map((seed) => adjusted(1, seed).stochastic.markLikeness[0]);
    expect(mean(factors)).toBeLessThan(1.06);
  });

  // Means of two draws of which neighbours share one correlate by 1/2: φ² = 1 + 2/2.
  it('of which neighbours share half count less, as the sums over a line scatter', () => {
    const results = SEEDS.map((seed) => adjusted(2, seed).stochastic);
    const factor = mean(results.map(({ markLikeness }) => markLikeness[0]));
    expect(factor).toBeGreaterThan(0.92 * Math.SQRT2);
    expect(factor).toBeLessThan(1.08 * Math.SQRT2);
    const scatter = mean(results.map((one) => one.sigmaMarkMm[0] / one.markLikeness[0]));
    expect(scatter / SIGMA_MARK_MM).toBeGreaterThan(0.85);
    expect(scatter / SIGMA_MARK_MM).toBeLessThan(1.1);
  });
});
