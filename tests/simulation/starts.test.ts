/** Where the adjustment begins must not decide where it ends: steep tilts, unknown focal lengths, wrong starts. */
import { describe, expect, it } from 'vitest';
import { gridProgram } from '../../samples/index.js';
import { adjust, estimateMachine, type NetworkInput } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { simulateNetwork } from './simulated-network.js';

const { strokes } = gridProgram({
  xMm: Array.from({ length: 9 }, (_, i) => 90 * i),
  yMm: Array.from({ length: 7 }, (_, i) => 80 * i),
});
const MIDDLE_MM = [360, 240] as const;

function photosAt(tiltDeg: readonly [number, number], seed: number, exifFocalPx?: number) {
  return simulateNetwork({
    seed,
    strokes,
    sigmaPx: 0.03,
    sigmaMarkMm: 0.02,
    photos: [0, 1, 2, 3],
    focalKnown: exifFocalPx !== undefined,
    ...(exifFocalPx === undefined ? {} : { exifFocalPx }),
    taped: true,
    scene: { tiltDeg },
  });
}

/** The homography whose picture is the same about the grid's middle but recedes to the other side. */
function mirrored(h: Float64Array): Float64Array {
  const [x, y] = MIDDLE_MM;
  const w = h[6]! * x + h[7]! * y + h[8]!;
  const u = (h[0]! * x + h[1]! * y + h[2]!) / w;
  const v = (h[3]! * x + h[4]! * y + h[5]!) / w;
  const by = [h[0]! - u * h[6]!, h[1]! - u * h[7]!, h[3]! - v * h[6]!, h[4]! - v * h[7]!].map(
    (value) => value / w,
  );
  const [gx, gy] = [-h[6]! / w, -h[7]! / w];
  const c = 1 - gx * x - gy * y;
  return Float64Array.from([
    by[0]! + u * gx,
    by[1]! + u * gy,
    u * c - by[0]! * x - by[1]! * y,
    by[2]! + v * gx,
    by[3]! + v * gy,
    v * c - by[2]! * x - by[3]! * y,
    gx,
    gy,
    c,
  ]);
}

function squarenessOf(input: NetworkInput): number | undefined {
  const outcome = adjust(input);
  return outcome.ok ? outcome.value.state.values[2] : undefined;
}

describe('photos tilted by 40 to 45°', () => {
  for (const [what, exif] of [
    ['without a focal length', undefined],
    ['with one that is half the true one', 1520],
    ['with one that is half as long again', 4560],
  ] as const) {
    it(`are adjusted ${what}, and squareness holds its U`, () => {
      for (const seed of [1, 2, 3]) {
        const { input, truth } = photosAt([40, 45], seed, exif);
        const { squareness } = estimateMachine(unwrap(adjust(input)));
        if (squareness.state === 'undetermined') continue;
        // Three boards: one error of two U would be one in ten thousand.
        expect(Math.abs(squareness.value - truth.squareness)).toBeLessThan(2 * squareness.U);
      }
    });
  }
});

describe('a start with the tilt mirrored', () => {
  it('comes to the same end with small tilts', () => {
    for (const seed of [1, 2]) {
      const { input } = photosAt([10, 15], seed, 3040);
      const [first, ...others] = input.photos;
      const wrong = [{ ...first!, homography: mirrored(first!.homography) }, ...others];
      const right = squarenessOf(input);
      // A hundredth of what is known of squareness.
      expect(squarenessOf({ ...input, photos: wrong })).toBeCloseTo(right!, 6);
    }
  });

  it('is refused with steep ones, not taken for another machine', () => {
    for (const seed of [1, 2, 3]) {
      const { input } = photosAt([25, 35], seed, 3040);
      const wrong = input.photos.map((photo) => ({
        ...photo,
        homography: mirrored(photo.homography),
      }));
      const right = squarenessOf(input)!;
      const found = squarenessOf({ ...input, photos: wrong });
      expect(found === undefined || Math.abs(found - right) < 1e-5).toBe(true);
    }
  });
});

describe('axes swapped between a photo and the program', () => {
  it('are a mirrored grid, and no solution', () => {
    const { input } = photosAt([5, 10], 4, 3040);
    const swapped = input.photos.map((photo) => {
      const h = photo.homography;
      return {
        ...photo,
        homography: Float64Array.from([
          h[1]!,
          h[0]!,
          h[2]!,
          h[4]!,
          h[3]!,
          h[5]!,
          h[7]!,
          h[6]!,
          h[8]!,
        ]),
      };
    });
    const outcome = adjust({ ...input, photos: swapped });
    expect(outcome.ok ? 'solved' : outcome.failure.code).toBe('NO_CONVERGENCE');
  });
});
