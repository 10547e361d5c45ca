import { describe, expect, it } from 'vitest';
import { turnedRotation } from '../../../src/network/camera-model.js';
import { viewOfPose } from '../../../src/network/view-of.js';
import {
  fillOf,
  homographyOfPose,
  type PlannedView,
  poseOfView,
  turnedPose,
} from '../../../src/network/view-pose.js';

const CAMERA = { widthPx: 4000, heightPx: 3000, focalLengthPx: 3000 };
const EXTENT = { x: [0, 800], y: [0, 500] } as const;
const OVERHEAD: PlannedView = { tiltRad: 0, towardRad: 0, rollRad: 0, aimMm: [0, 0] };

/** Camera centre on the board's frame: C = −Rᵀ t. */
function centreOf({ rotation: r, a, b, rho }: ReturnType<typeof poseOfView>): number[] {
  const t = [a * rho, b * rho, rho * CAMERA.focalLengthPx];
  return [0, 1, 2].map((k) => -(r[k]! * t[0]! + r[3 + k]! * t[1]! + r[6 + k]! * t[2]!));
}

describe('a planned view', () => {
  it('from straight above stands over the middle, where the longer side fills its share', () => {
    // 800 mm on 80 % of 4000 px are 0.25 mm per px: 3000 px of focal length are 750 mm.
    const pose = poseOfView(OVERHEAD, CAMERA, EXTENT, 0.8);
    expect(pose.rho).toBeCloseTo(0.25, 9);
    const [x, y, z] = centreOf(pose);
    expect([x, y]).toEqual([expect.closeTo(400, 6), expect.closeTo(250, 6)]);
    expect(z).toBeCloseTo(750, 6);
  });

  it('with the phone turned a quarter turn stands higher: its shorter side has to hold the grid', () => {
    // 800 mm on 80 % of 3000 px.
    const pose = poseOfView({ ...OVERHEAD, rollRad: Math.PI / 2 }, CAMERA, EXTENT, 0.8);
    expect(pose.rho).toBeCloseTo(1 / 3, 9);
    expect(viewOfPose(pose).quarter).toBe(1);
  });

  it('stands on the side that it leans toward and has the tilt and roll that were asked for', () => {
    for (const towardRad of [-2.5, -0.4, 0.3, 1.2, 3]) {
      const asked = { ...OVERHEAD, tiltRad: 0.3, towardRad };
      const pose = poseOfView(asked, CAMERA, EXTENT, 0.8);
      const [x, y, z] = centreOf(pose) as [number, number, number];
      expect(Math.atan2(y - 250, x - 400)).toBeCloseTo(towardRad, 9);
      expect(Math.hypot(y - 250, x - 400) / z).toBeCloseTo(Math.tan(0.3), 9);
      expect(viewOfPose(pose).tiltRad).toBeCloseTo(0.3, 9);
      expect(fillOf(pose, CAMERA, EXTENT)).toBeCloseTo(0.8, 6);
    }
  });

  it('has the homography that maps the aim to the middle of the picture', () => {
    const pose = poseOfView({ ...OVERHEAD, tiltRad: 0.2, towardRad: 1 }, CAMERA, EXTENT, 0.8);
    const h = homographyOfPose(pose, CAMERA);
    const at = (row: number) => h[3 * row]! * 400 + h[3 * row + 1]! * 250 + h[3 * row + 2]!;
    expect(at(0) / at(2)).toBeCloseTo(1999.5, 6);
    expect(at(1) / at(2)).toBeCloseTo(1499.5, 6);
  });
});

describe('a turned pose', () => {
  it('keeps tilt, side and aim, and turns by quarters counter-clockwise', () => {
    const pose = poseOfView({ ...OVERHEAD, tiltRad: 0.1, towardRad: 0.7 }, CAMERA, EXTENT, 0.8);
    for (const quarters of [1, 2, 3]) {
      const turned = turnedPose(pose, quarters, CAMERA, EXTENT, 0.8);
      const [before, after] = [pose, turned].map(viewOfPose) as [
        ReturnType<typeof viewOfPose>,
        ReturnType<typeof viewOfPose>,
      ];
      expect(after.tiltRad).toBeCloseTo(before.tiltRad, 9);
      expect((after.quarter - before.quarter + 4) % 4).toBe(quarters);
      const [x, y] = centreOf(turned) as [number, number];
      expect(Math.atan2(y - 250, x - 400)).toBeCloseTo(0.7, 6);
      expect(fillOf(turned, CAMERA, EXTENT)).toBeCloseTo(0.8, 6);
    }
  });
});

describe('the share of the picture that a grid fills', () => {
  it('is not finite where part of the grid lies behind the camera', () => {
    const pose = poseOfView(OVERHEAD, CAMERA, EXTENT, 0.8);
    // Looking at the horizon.
    const level = { ...pose, rotation: turnedRotation(pose.rotation, 1.5, 0, 0) };
    expect(fillOf(level, CAMERA, { x: [-9000, 9000], y: [-9000, 9000] })).toBe(Infinity);
  });
});
