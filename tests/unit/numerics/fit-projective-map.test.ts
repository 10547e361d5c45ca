import { describe, expect, it } from 'vitest';
import { fitProjectiveMap } from '../../../src/numerics/index.js';

/** A plane seen askew, far from its origin. */
const MAP = [2.1, -0.3, 900, 0.4, 1.8, -700, 2e-4, -3e-4, 1];

function seen([x, y]: readonly [number, number]): [number, number, number, number] {
  const [a, b, c, d, e, f, g, h, i] = MAP as [
    ...[number, number, number, number, number, number, number, number, number],
  ];
  const w = g * x + h * y + i;
  return [x, y, (a * x + b * y + c) / w, (d * x + e * y + f) / w];
}

const CORNERS = [
  [1000, 500],
  [1600, 520],
  [1620, 900],
  [980, 950],
] as const;

describe('a projective map', () => {
  it('is found from four points, and from more', () => {
    for (const more of [[], [[1300, 700] as const, [1100, 900] as const]]) {
      const map = fitProjectiveMap([...CORNERS, ...more].map(seen));
      MAP.forEach((value, k) => {
        expect(map?.[k] ?? 0, `element ${k}`).toBeCloseTo(value, k < 6 ? 6 : 10);
      });
    }
  });

  it('takes places that scatter to the middle of them', () => {
    // A square to a square, its corners drawn out evenly: by symmetry the centre stays in the centre.
    const square = [-1, 1].flatMap((x) => [-1, 1].map((y) => [x, y, 3 + 2.02 * x, 5 + 2.02 * y]));
    const edges = [-1, 1].flatMap((x) => [
      [x, 0, 3 + 1.98 * x, 5],
      [0, x, 3, 5 + 1.98 * x],
    ]);
    const map = fitProjectiveMap([...square, ...edges] as [number, number, number, number][])!;
    expect(map[2]! / map[8]!).toBeCloseTo(3, 9);
    expect(map[5]! / map[8]!).toBeCloseTo(5, 9);
    expect(map[0]!).toBeGreaterThan(1.98);
    expect(map[0]!).toBeLessThan(2.02);
    expect(map[4]!).toBeCloseTo(map[0]!, 9);
  });

  it('is none of three points, nor of points on a line or beyond all numbers', () => {
    expect(fitProjectiveMap(CORNERS.slice(0, 3).map(seen))).toBeUndefined();
    const line = [0, 1, 2, 3, 5].map((t) => seen([1000 + 40 * t, 500 + 30 * t]));
    expect(fitProjectiveMap(line)).toBeUndefined();
    for (const odd of [Number.NaN, Number.POSITIVE_INFINITY, 1e200]) {
      const [first, ...others] = CORNERS.map(seen);
      expect(fitProjectiveMap([[first![0], first![1], odd, first![3]], ...others])).toBeUndefined();
    }
  });
});
