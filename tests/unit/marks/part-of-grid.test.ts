import { describe, expect, it } from 'vitest';
import type { Stroke } from '../../../shared/stroke.js';
import { findLattice } from '../../../src/marks/find-lattice.js';
import type { LatticeFit } from '../../../src/marks/finish-placement.js';
import { type ImageMap, imageFromCommanded } from '../../../src/marks/image-map.js';
import {
  drawScene,
  evenly,
  gridStrokes,
  type Scene,
  type SceneOptions,
  straight,
} from './draw-scene.js';

const PITCH = 50;
const COLUMNS = 24;
const ROWS = 16;
const WIDTH = 1400;
const HEIGHT = 1050;
const OFF_PX = 2;

const plain = gridStrokes(evenly(COLUMNS, PITCH), evenly(ROWS, PITCH));
const view = {
  width: WIDTH,
  height: HEIGHT,
  strokes: plain,
  acrossMm: 420,
  markPx: 3,
  borderMm: [60, 60, 60, 60],
} satisfies SceneOptions;

/** A number in every third cell each way, as short upright strokes. */
function coded(): Stroke[] {
  const ticks: Stroke[] = [];
  for (let row = 1; row < ROWS - 1; row += 3) {
    for (let column = 1; column < COLUMNS - 1; column += 3) {
      for (const [height, value] of [
        [11, column + 1],
        [31, row + 1],
      ]) {
        for (let bit = 0; bit < 5; bit++) {
          if (Math.floor(value / 2 ** bit) % 2 === 0) continue;
          const x = column * PITCH + 10 + 6 * bit;
          const y = row * PITCH + height;
          ticks.push(straight(1000 + ticks.length, x, y, x, y + 5));
        }
      }
    }
  }
  return [...plain, ...ticks];
}

/** Largest distance from the truth over the crossings in the picture; px. */
function worstInView(scene: Scene, map: ImageMap): number {
  let worst = 0;
  for (let i = 0; i < COLUMNS; i++) {
    for (let j = 0; j < ROWS; j++) {
      const [u, v] = scene.truth(i * PITCH, j * PITCH);
      if (u < 0 || v < 0 || u >= WIDTH || v >= HEIGHT) continue;
      const [uFound, vFound] = imageFromCommanded(map, i * PITCH, j * PITCH);
      worst = Math.max(worst, Math.hypot(u - uFound, v - vFound));
    }
  }
  return worst;
}

function bestOff(scene: Scene, fit: LatticeFit): number {
  const maps = [fit.map, ...fit.rivals.map((rival) => rival.map)];
  return Math.min(...maps.map((map) => worstInView(scene, map)));
}

function statedAt(scene: Scene, xMm: number, yMm: number) {
  const [uPx, vPx] = scene.truth(xMm, yMm);
  return { xMm, yMm, uPx, vPx };
}

describe('a photo of a part of the grid', () => {
  for (const [rollDeg, tiltDeg] of [
    [10, 0],
    [100, 15],
  ]) {
    it(`finds its place by the codes in its cells, turned by ${rollDeg}° and tilted by ${tiltDeg}°`, async () => {
      const strokes = coded();
      const aimMm = [500, 380] as const;
      const scene = drawScene({ ...view, strokes, aimMm, rollDeg, tiltDeg, seed: rollDeg });
      const outcome = await findLattice(scene.grey, strokes);
      if (!outcome.ok) throw outcome.failure;
      expect(outcome.value.certain).toBe(true);
      expect(worstInView(scene, outcome.value.map)).toBeLessThan(OFF_PX);
      expect(outcome.value.shareInPicture).toBeLessThan(0.5);
    });
  }

  it('finds its place by the origin mark', async () => {
    const strokes = [
      ...plain,
      straight(900, 10, 10, 40, 10),
      straight(901, 10, 10, 10, 30),
      straight(902, 40, 10, 10, 30),
      straight(903, 60, 25, 90, 25),
      straight(904, 82, 17, 90, 25),
      straight(905, 82, 33, 90, 25),
      straight(906, 25, 60, 25, 90),
      straight(907, 17, 82, 25, 90),
      straight(908, 33, 82, 25, 90),
      straight(909, 17, 60, 33, 60),
    ];
    const scene = drawScene({ ...view, strokes, aimMm: [170, 140], rollDeg: 130, tiltDeg: 10 });
    const outcome = await findLattice(scene.grey, strokes);
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(true);
    expect(worstInView(scene, outcome.value.map)).toBeLessThan(OFF_PX);
  });

  it('of a plain grid finds its place by the ends of lines on two sides, but not its turn', async () => {
    const scene = drawScene({ ...view, aimMm: [150, 120], rollDeg: 20, tiltDeg: 10 });
    const outcome = await findLattice(scene.grey, plain);
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(false);
    expect(outcome.value.rivals).toHaveLength(3);
    expect(bestOff(scene, outcome.value)).toBeLessThan(OFF_PX);
  });

  it('is not placed where a cover may hide the further lines', async () => {
    // The board ends where its outermost lines do: what lies beyond may as well lie on them.
    const borderMm = [2, 2, 2, 2] as const;
    const scene = drawScene({ ...view, borderMm, aimMm: [150, 120], rollDeg: 20 });
    const outcome = await findLattice(scene.grey, plain);
    const code = outcome.ok ? undefined : outcome.failure.code;
    expect(['GRID_AMBIGUOUS', 'GRID_NOT_FOUND']).toContain(code);
  });
});

describe('the middle of a plain grid', () => {
  const scene = drawScene({ ...view, aimMm: [600, 375], rollDeg: 33, tiltDeg: 12 });

  it('fits in many places: none is guessed', async () => {
    const outcome = await findLattice(scene.grey, plain);
    expect(outcome.ok ? undefined : outcome.failure.code).toBe('GRID_AMBIGUOUS');
  });

  it('with one crossing stated leaves the quarter turns open', async () => {
    const stated = [statedAt(scene, 550, 350)];
    const outcome = await findLattice(scene.grey, plain, { stated });
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(false);
    expect(bestOff(scene, outcome.value)).toBeLessThan(OFF_PX);
  });

  it('with two crossings stated is placed', async () => {
    const stated = [statedAt(scene, 550, 350), statedAt(scene, 700, 350)];
    const outcome = await findLattice(scene.grey, plain, { stated });
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(true);
    expect(worstInView(scene, outcome.value.map)).toBeLessThan(OFF_PX);
  });
});

describe('a crossing stated in a photo of the whole grid', () => {
  const whole: SceneOptions = { ...view, acrossMm: 1100, rollDeg: 5, tiltDeg: 5 };
  const scene = drawScene(whole);

  it('tells a plain grid’s half turn', async () => {
    const stated = [statedAt(scene, 0, 0)];
    const outcome = await findLattice(scene.grey, plain, { stated });
    if (!outcome.ok) throw outcome.failure;
    expect(outcome.value.certain).toBe(true);
    expect(worstInView(scene, outcome.value.map)).toBeLessThan(OFF_PX);
  });

  it('that is not there is refused', async () => {
    const stated = [{ ...statedAt(scene, 0, 0), xMm: 100 }];
    const outcome = await findLattice(scene.grey, plain, { stated });
    expect(outcome.ok ? undefined : outcome.failure.code).toBe('GRID_NOT_FOUND');
  });
});
