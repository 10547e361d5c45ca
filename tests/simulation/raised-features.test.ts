/** Features 0 to 40 mm over the board in tilted views whose poses are known: places and heights against the truth. */

import { describe, expect, it } from 'vitest';
import { cameraFrame, type Lens, pixelFromBoard } from '../../samples/pinhole-view.js';
import { createRandomSource, type RandomSource } from '../../samples/random-source.js';
import {
  type CombinedPlace,
  combineSightings,
  type FeatureView,
  localPlane,
  type PhotoSighting,
} from '../../src/fixture/index.js';

const LENS: Lens = {
  focalPx: 3000,
  principalPx: [2000, 1500],
  distortionCentrePx: [2010, 1490],
  k1: -0.08,
  k2: 0.03,
  k3: 0,
  p1: 2e-4,
  p2: -1e-4,
};
const SIGMA_PX = 0.05;
const IMAGE = { width: 1, height: 1, data: new Uint8Array(1) };

function viewFrom(tiltRad: number, random: RandomSource): FeatureView {
  const frame = cameraFrame({
    aimMm: [random.between(250, 350), random.between(150, 250)],
    distanceMm: 900,
    tiltRad,
    azimuthRad: random.between(0, 2 * Math.PI),
    rollRad: random.between(0, 2 * Math.PI),
  });
  return {
    image: IMAGE,
    imageAt(x, y, height) {
      const seen = pixelFromBoard(LENS, frame, x, y, height);
      if (seen === undefined) throw new Error('behind the camera');
      return seen;
    },
  };
}

/** One photo's reading of a place: a noisy pixel, taken back to the plane of the height that is believed. */
function sight(
  view: FeatureView,
  truth: readonly [number, number, number],
  believedMm: number,
  photo: number,
  random: RandomSource,
): PhotoSighting {
  const plane = localPlane(view, [truth[0], truth[1]], believedMm);
  const [u, v] = view.imageAt(...truth);
  const values = plane.placeAt(u + SIGMA_PX * random.normal(), v + SIGMA_PX * random.normal());
  const [a, b, c, d] = plane.byPlace;
  const determinant = (a * d - b * c) ** 2;
  // (Jᵀ J)⁻¹ σ².
  const scale = SIGMA_PX ** 2 / determinant;
  return {
    photo,
    values,
    covariance: [scale * (b * b + d * d), -scale * (a * b + c * d), scale * (a * a + c * c)],
    grainShare: 0,
    parallax: plane.parallax,
  };
}

function score(
  photos: number,
  tiltDeg: readonly [number, number],
  heightUMm: number,
  seed: number,
) {
  const random = createRandomSource(seed);
  const tally = { within: 0, of: 0, meanU: 0, heightsWithin: 0, trials: 300 };
  for (let trial = 0; trial < tally.trials; trial++) {
    const height = random.between(0, 40);
    const truth = [random.between(50, 550), random.between(50, 350), height] as const;
    const believed = height + heightUMm * random.normal();
    const views = Array.from({ length: photos }, () =>
      viewFrom((random.between(tiltDeg[0], tiltDeg[1]) * Math.PI) / 180, random),
    );
    // Read again at the height that came out: the same pixels, since the noise is drawn anew from the same place.
    let read = believed;
    let combined: CombinedPlace | undefined;
    for (let round = 0; round < (heightUMm > 0 ? 4 : 1); round++) {
      const sightings = views.map((view, photo) =>
        sight(view, truth, read, photo, createRandomSource(1e6 * seed + 10 * trial + photo)),
      );
      combined = combineSightings(sightings, heightUMm, believed - read);
      if (round < 3 && heightUMm > 0) read += combined.higherMm.value;
    }
    const { values, covariance, higherMm } = combined!;
    for (const i of [0, 1] as const) {
      const u = Math.sqrt(covariance[i === 0 ? 0 : 2]);
      tally.of++;
      tally.meanU += u / (2 * tally.trials);
      if (Math.abs(values[i] - truth[i]) <= 2 * u) tally.within++;
    }
    if (Math.abs(read + higherMm.value - height) <= 2 * higherMm.u) tally.heightsWithin++;
  }
  return tally;
}

/** Of so many trials at 95 %, three standard deviations below. */
function least(trials: number): number {
  return 0.95 - 3 * Math.sqrt((0.95 * 0.05) / trials);
}

describe('features 0 to 40 mm over the board', () => {
  it('of known height are placed within U in one photo, tilted or not', () => {
    for (const tilt of [
      [0, 3],
      [20, 35],
    ] as const) {
      const { within, of } = score(1, tilt, 0, 1);
      expect(within / of).toBeGreaterThan(least(of));
    }
  });

  it('of a height known to 12 mm are placed within a U that is wider for it, near to nothing right below the camera', () => {
    const tilted = score(1, [20, 35], 12, 2);
    expect(tilted.within / tilted.of).toBeGreaterThan(least(tilted.of));
    const known = score(1, [20, 35], 0, 2);
    expect(tilted.meanU).toBeGreaterThan(50 * known.meanU);
  });

  it('are placed, and their heights told, by four tilted photos from all sides', () => {
    const several = score(4, [15, 35], 12, 3);
    expect(several.within / several.of).toBeGreaterThan(least(several.of));
    expect(several.heightsWithin / several.trials).toBeGreaterThan(least(several.trials));
    // A twentieth of a pixel is 0.015 mm; the height is no longer what decides.
    expect(several.meanU).toBeLessThan(0.03);
  });

  it('of a wrong height that is stated as known contradict each other in photos from several sides', () => {
    const random = createRandomSource(4);
    const truth = [200, 150, 30] as const;
    const sightings = [0, 1, 2].map((photo) =>
      sight(viewFrom(0.4, random), truth, 20, photo, random),
    );
    expect(combineSightings(sightings, 0).probability).toBeLessThan(1e-6);
    expect(combineSightings(sightings, 10).probability).toBeGreaterThan(1e-3);
  });
});
