/** Lines fainter than the grain they run along, and ends of lines as a measure of where the others lie. */
import { describe, expect, it } from 'vitest';
import { mapToEnds, moveCorners } from '../../../src/marks/ends-of-lines.js';
import { standsOut } from '../../../src/marks/faint-family.js';
import { type ImageMap, imageFromCommanded } from '../../../src/marks/image-map.js';
import { describeGrid } from '../../../src/marks/program-grid.js';
import { computeRidgeField } from '../../../src/marks/ridge-field.js';
import { randomFrom } from '../../simulation/boards/noise.js';
import { gridStrokes } from '../../simulation/boards/random-board.js';

const SIZE = 420;
/** Grain keeps its grey over this length; px. */
const GRAIN_PX = 90;
const positions = (n: number, gap: number) => Array.from({ length: n }, (_, k) => k * gap);
/** u = 40 + x, v = 380 - y: one mm is one px. */
const MAP: ImageMap = {
  homography: Float64Array.of(1, 0, 40, 0, -1, 380, 0, 0, 1),
  centrePx: [SIZE / 2, SIZE / 2],
  radiusPx: SIZE / Math.SQRT2,
  k1: 0,
  k2: 0,
};

/** Grain along v of ±6 in stripes 3 px wide; lines along v at the given u, lines along u at the given v. */
function draw(us: readonly number[], vs: readonly number[], depth: number) {
  const random = randomFrom(11);
  const stripes = Math.ceil(SIZE / 3);
  const grain = Float64Array.from(
    { length: stripes * Math.ceil(SIZE / GRAIN_PX + 1) },
    () => 12 * random() - 6,
  );
  const start = Array.from({ length: stripes }, () => Math.floor(GRAIN_PX * random()));
  const data = new Float32Array(SIZE * SIZE);
  const isOn = (at: number, lines: readonly number[]) => lines.some((p) => Math.abs(at - p) <= 1);
  for (let v = 0; v < SIZE; v++) {
    for (let u = 0; u < SIZE; u++) {
      const stripe = Math.floor(u / 3);
      const piece = Math.floor((v + start[stripe]) / GRAIN_PX);
      const inX = u >= us[0] && u <= us[us.length - 1];
      const inY = v >= vs[0] && v <= vs[vs.length - 1];
      const mark = (inY && isOn(u, us)) || (inX && isOn(v, vs));
      data[v * SIZE + u] =
        150 + grain[piece * stripes + stripe] - (mark ? depth : 0) + 4 * (random() - 0.5);
    }
  }
  return computeRidgeField({ width: SIZE, height: SIZE, data, factor: 1 });
}

const xs = positions(12, 30);
const ys = positions(10, 36);
const grid = describeGrid(gridStrokes(xs, ys))!;
const us = xs.map((x) => 40 + x);
const vs = ys.map((y) => 380 - y).reverse();

describe('a family of lines among grain', () => {
  const sight = { field: draw(us, vs, 4), sign: 1 } as const;

  it('stands out where its lines are', () => {
    expect(standsOut(sight, MAP, grid, 0)).toBe(true);
  });

  it('does not stand out half a gap beside them', () => {
    const beside = { ...MAP, homography: Float64Array.of(1, 0, 55, 0, -1, 380, 0, 0, 1) };
    expect(standsOut(sight, beside, grid, 0)).toBe(false);
  });

  it('does not stand out where there is grain alone', () => {
    expect(standsOut({ field: draw(us, vs, 0), sign: 1 }, MAP, grid, 0)).toBe(false);
  });

  it('is no family of the program where lines lie midway as well', () => {
    const double = Array.from({ length: 23 }, (_, k) => 40 + 15 * k);
    expect(standsOut({ field: draw(double, vs, 4), sign: 1 }, MAP, grid, 0)).toBe(false);
  });
});

describe('ends of lines', () => {
  it('put the outer lines of the other family where they are, whatever the map said', () => {
    const sight = { field: draw(us, vs, 12), sign: 1 } as const;
    // The first map has the lines along Y a sixth too wide apart, and two thirds of a gap further on.
    const wrong = { ...MAP, homography: Float64Array.of(7 / 6, 0, 60, 0, -1, 380, 0, 0, 1) };
    const map = mapToEnds(sight, wrong, grid, 1)!;
    for (const x of [xs[0], xs[xs.length - 1]]) {
      for (const y of [ys[0], ys[ys.length - 1]]) {
        const [u, v] = imageFromCommanded(map, x, y);
        // A quarter of a gap is the size of the pieces that are looked at.
        expect(Math.abs(u - 40 - x)).toBeLessThan(30 / 4 + 1);
        expect(v).toBeCloseTo(380 - y, 6);
      }
    }
  });

  it('moving the corners puts each of them at its new place', () => {
    const corners = [
      [3, -5],
      [340, 8],
      [318, 330],
      [-12, 301],
    ] as const;
    const map = moveCorners(MAP, grid, corners);
    const own = [
      [xs[0], ys[0]],
      [xs[11], ys[0]],
      [xs[11], ys[9]],
      [xs[0], ys[9]],
    ];
    own.forEach(([x, y], k) => {
      const [u, v] = imageFromCommanded(map, x, y);
      expect(u).toBeCloseTo(40 + corners[k][0], 6);
      expect(v).toBeCloseTo(380 - corners[k][1], 6);
    });
  });
});
