import { describe, expect, it } from 'vitest';
import { createRandomSource } from '../../../samples/random-source.js';
import type { DeviationRecord } from '../../../shared/schemas/measurement.js';
import { readShapes } from '../../../src/correction/read-shape.js';

/** Lines every 50 mm; deviations of their middle, half the lost motion, noise of single lines. */
function lines(
  middle: (at: number) => number,
  { play = () => 0, noise = 0.008, seed = 1, count = 19 }: Partial<Options> = {},
): DeviationRecord[] {
  const random = createRandomSource(seed).fork('lines');
  return Array.from({ length: count }, (_, i) => {
    const commanded = 50 * i;
    const value = middle(commanded) + noise * random.normal();
    const half = play(commanded) / 2 + (noise / 4) * random.normal();
    return {
      placement: 0,
      axis: 'x' as const,
      commanded,
      forward: value - half,
      reverse: value + half,
      u: 0.005,
    };
  });
}

interface Options {
  play: (at: number) => number;
  noise: number;
  seed: number;
  count: number;
}

const SEEDS = Array.from({ length: 200 }, (_, i) => i);

describe('the shape of an axis’ deviations', () => {
  it('is none where a slope and the scatter of lines is all there is, but for one in fifty', () => {
    const found = SEEDS.filter(
      (seed) =>
        readShapes(
          lines((at) => 1e-3 * at, { seed }),
          'x',
        ).length > 0,
    );
    expect(found.length).toBeLessThanOrEqual(4);
  });

  it('is a step of its height at its place', () => {
    const found = SEEDS.slice(0, 50).flatMap((seed) =>
      readShapes(
        lines((at) => 0.3e-3 * at + (at > 420 ? 0.12 : 0), { seed }),
        'x',
      ),
    );
    expect(found.map(({ kind }) => kind)).toEqual(SEEDS.slice(0, 50).map(() => 'step'));
    const near = found.filter(({ atMm, sizeMm, U }) => {
      return Math.abs(atMm - 425) <= 50 && Math.abs(sizeMm - 0.12) <= 1.5 * U;
    });
    expect(near.length).toBeGreaterThanOrEqual(47);
  });

  it('is a bend of its sagitta', () => {
    // A parabola over 900 mm that is 0.1 mm off in the middle.
    const found = SEEDS.slice(0, 50).flatMap((seed) =>
      readShapes(
        lines((at) => 0.1 * ((2 * at) / 900 - 1) ** 2, { seed }),
        'x',
      ),
    );
    expect(found.filter(({ kind }) => kind === 'bend').length).toBeGreaterThanOrEqual(45);
    for (const { kind, sizeMm, U } of found) {
      if (kind === 'bend') expect(Math.abs(sizeMm - 0.1)).toBeLessThan(2 * U);
    }
  });

  it('is a knee where the slope changes', () => {
    // 0.5 mm/m more from 450 mm on: off the line through both ends by 0.5e-3 · 450 · 450 / 900.
    const found = SEEDS.slice(0, 50).flatMap((seed) =>
      readShapes(
        lines((at) => 0.5e-3 * Math.max(0, at - 450), { seed, noise: 0.004 }),
        'x',
      ),
    );
    const knees = found.filter(({ kind }) => kind === 'knee');
    expect(knees.length).toBeGreaterThanOrEqual(45);
    for (const { atMm, sizeMm, U } of knees) {
      expect(Math.abs(atMm - 450)).toBeLessThanOrEqual(100);
      expect(Math.abs(sizeMm - 0.1125)).toBeLessThan(3 * U);
    }
  });

  it('is lost motion that grows, toward the end where it is larger', () => {
    const [shape, ...more] = readShapes(
      lines(() => 0, { play: (at) => 0.05 + 1e-4 * (900 - at) }),
      'x',
    );
    expect(more).toEqual([]);
    expect(shape).toMatchObject({ kind: 'growing lost motion', atMm: 0 });
    expect(Math.abs(shape!.sizeMm + 0.09)).toBeLessThan(1.5 * shape!.U);
  });

  it('is left open where there are too few lines, and of the other axis', () => {
    const step = (at: number) => (at > 100 ? 0.2 : 0);
    expect(readShapes(lines(step, { count: 6 }), 'x')).toEqual([]);
    expect(readShapes(lines(step), 'y')).toEqual([]);
  });
});
