import { describe, expect, it } from 'vitest';
import {
  type BoardShape,
  boardFromPixel,
  type CameraStand,
  cameraFrame,
  type Lens,
  pixelFromBoard,
} from '../../../samples/index.js';

const DEGREE = Math.PI / 180;

const OVERHEAD: CameraStand = {
  aimMm: [0, 0],
  distanceMm: 1000,
  tiltRad: 0,
  azimuthRad: 0,
  rollRad: 0,
};
const STRAIGHT: Lens = {
  focalPx: 3000,
  principalPx: [2000, 1500],
  k1: 0,
  k2: 0,
  k3: 0,
  p1: 0,
  p2: 0,
  distortionCentrePx: [2000, 1500],
};

function seen(lens: Lens, stand: CameraStand, x: number, y: number): [number, number] {
  const pixel = pixelFromBoard(lens, cameraFrame(stand), x, y, 0);
  if (!pixel) throw new Error('behind the camera');
  return pixel;
}

function expectPixel(actual: readonly number[], u: number, v: number): void {
  expect(actual[0]).toBeCloseTo(u, 9);
  expect(actual[1]).toBeCloseTo(v, 9);
}

describe('the simulated camera', () => {
  it('straight above shows +X to the right and +Y upward, 3 px per mm at 1 m with 3000 px', () => {
    expectPixel(seen(STRAIGHT, OVERHEAD, 100, 50), 2300, 1350);
  });

  it('rolled clockwise by a quarter turn shows +X upward and +Y to the left', () => {
    const rolled = { ...OVERHEAD, rollRad: 90 * DEGREE };
    expectPixel(seen(STRAIGHT, rolled, 100, 50), 2000 - 150, 1500 - 300);
  });

  it('tilted by 30° toward +X sees a point 100 mm on that side nearer and foreshortened', () => {
    // Along the ray's axis 1000 - 100 sin 30° = 950 mm away, 100 cos 30° mm to the right.
    const tilted = { ...OVERHEAD, tiltRad: 30 * DEGREE };
    const [u, v] = seen(STRAIGHT, tilted, 100, 0);
    expect(u).toBeCloseTo(2000 + (3000 * 100 * Math.cos(30 * DEGREE)) / 950, 9);
    expect(v).toBeCloseTo(1500, 9);
  });

  it('tilted toward +Y sees the +Y side larger', () => {
    const tilted = { ...OVERHEAD, tiltRad: 10 * DEGREE, azimuthRad: 90 * DEGREE };
    const width = (y: number) =>
      seen(STRAIGHT, tilted, 100, y)[0] - seen(STRAIGHT, tilted, -100, y)[0];
    expect(width(200)).toBeGreaterThan(width(-200));
  });

  it('moves a point at a tenth of the principal distance by k1 / 1000 of it outward', () => {
    // x' = 0.1: r² = 0.01, so k1 = 0.1 moves it by 0.1 x 0.001 x 3000 px = 0.3 px.
    expectPixel(seen({ ...STRAIGHT, k1: 0.1 }, OVERHEAD, 100, 0), 2300.3, 1500);
  });

  it('gives p1 and p2 the meaning they have in OpenCV', () => {
    // x' = 0.1, y' = 0: dx = p2 (r² + 2 x²) = 0.03 p2, dy = p1 r² = 0.01 p1.
    expectPixel(
      seen({ ...STRAIGHT, p1: 0.01, p2: 0.02 }, OVERHEAD, 100, 0),
      2300 + 3000 * 0.03 * 0.02,
      1500 + 3000 * 0.01 * 0.01,
    );
  });

  it('leaves the distortion centre where it is, and bends about it', () => {
    const lens: Lens = { ...STRAIGHT, k1: 0.1, distortionCentrePx: [2300, 1500] };
    expectPixel(seen(lens, OVERHEAD, 100, 0), 2300, 1500);
    expectPixel(seen(lens, OVERHEAD, 200, 0), 2600.3, 1500);
  });

  it('follows a pixel back to the board point that appears in it, bowed board and all', () => {
    const lens: Lens = {
      focalPx: 2950,
      principalPx: [2011, 1483],
      k1: -0.11,
      k2: 0.04,
      k3: -0.008,
      p1: 3e-4,
      p2: -2e-4,
      distortionCentrePx: [1990, 1510],
    };
    const stand: CameraStand = {
      aimMm: [350, 240],
      distanceMm: 820,
      tiltRad: 0.3,
      azimuthRad: 2.1,
      rollRad: 1.7,
    };
    const shape: BoardShape = {
      centreMm: [360, 240],
      halfSizeMm: [400, 280],
      bowXMm: 0.8,
      bowYMm: -0.4,
      twistMm: 0.5,
    };
    const frame = cameraFrame(stand);
    for (const [u, v] of [
      [0, 0],
      [3999, 0],
      [0, 2999],
      [3999, 2999],
      [1234.5, 2345.6],
    ] as const) {
      const board = boardFromPixel(lens, frame, shape, u, v);
      if (!board) throw new Error('the ray misses the board');
      const [x, y] = board;
      const across = (x - 360) / 400;
      const up = (y - 240) / 280;
      const z = 0.8 * across * across - 0.4 * up * up + 0.5 * across * up;
      const again = pixelFromBoard(lens, frame, x, y, z);
      // The ray is followed until it moves by less than 1e-9 mm.
      expect(again?.[0]).toBeCloseTo(u, 6);
      expect(again?.[1]).toBeCloseTo(v, 6);
    }
  });
});
