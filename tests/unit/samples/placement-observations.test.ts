import { describe, expect, it } from 'vitest';
import {
  gridProgram,
  type MarkedPlace,
  observePlacements,
  projectCommanded,
  randomScene,
} from '../../../samples/index.js';

const { strokes } = gridProgram({ xMm: [0, 100, 200], yMm: [0, 100, 200] });
const { scene } = randomScene(3, strokes, { rolls: [20], tiltDeg: [10, 12] });
const QUIET = { sigmaPx: 0, sigmaMarkMm: 0, seed: 1 };
const place = (xMm: number, yMm: number): MarkedPlace => ({
  xMm,
  yMm,
  approachX: 1,
  approachY: 0,
  runsAlong: 'y',
});

describe('a board marked twice', () => {
  it('shows its first placement where a board marked once would', () => {
    const [seen] = observePlacements(
      scene,
      [{ places: [place(100, 150)], turnRad: 0, shiftMm: [0, 0] }],
      QUIET,
    );
    const [u, v] = projectCommanded(scene, 0, 100, 150, 1, 0);
    expect(seen!.u).toBeCloseTo(u, 9);
    expect(seen!.v).toBeCloseTo(v, 9);
  });

  it('shows a second one turned by a quarter and shifted where the same place then lies', () => {
    // A perfect machine: (150, 40) turned anticlockwise by a quarter lies at (-40, 150), shifted at (160, 150).
    const perfect = {
      ...scene.machine,
      scaleX: 0,
      scaleY: 0,
      squarenessRad: 0,
      lostMotionXMm: 0,
      lostMotionYMm: 0,
      positionX: { atMm: [], deviationMm: [] },
      positionY: { atMm: [], deviationMm: [] },
      straightnessX: { ...scene.machine.straightnessX, legendre: [] },
      straightnessY: { ...scene.machine.straightnessY, legendre: [] },
      yaw: { ...scene.machine.yaw, legendre: [] },
    };
    const [turned, plain] = observePlacements(
      { ...scene, machine: perfect },
      [
        { places: [place(150, 40)], turnRad: Math.PI / 2, shiftMm: [200, 0] },
        { places: [{ ...place(160, 150), runsAlong: 'x' }], turnRad: 0, shiftMm: [0, 0] },
      ],
      QUIET,
    );
    expect(turned!.u).toBeCloseTo(plain!.u, 9);
    expect(turned!.v).toBeCloseTo(plain!.v, 9);
    // Along Y of the machine is against X of the board.
    expect(turned!.alongU).toBeCloseTo(-plain!.alongU, 9);
    expect(turned!.alongV).toBeCloseTo(-plain!.alongV, 9);
  });
});
