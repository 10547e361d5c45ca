/** What may be known besides the marks in the photos: rules on the board, nodes measured otherwise. */

import type { Approach } from '../shared/stroke.js';
import { landedPosition } from './machine-errors.js';
import { boardHeight, cameraFrame, pixelFromBoard } from './pinhole-view.js';
import { createRandomSource } from './random-source.js';
import { photoPlan, type Scene } from './scene.js';

export interface LaidRule {
  /** First graduation on the board; mm. */
  readonly fromMm: readonly [number, number];
  /** Direction toward the second one, anticlockwise from +X; rad. */
  readonly angleRad: number;
  readonly lengthMm: number;
  /** Of the graduations over the board; mm. */
  readonly heightMm: number;
}

/** The sensor pixels in which both graduations of a rule appear. */
export function seeRule(
  scene: Scene,
  photoIndex: number,
  { fromMm, angleRad, lengthMm, heightMm }: LaidRule,
): readonly [from: [number, number], to: [number, number]] {
  const plan = photoPlan(scene, photoIndex);
  const frame = cameraFrame(plan.stand);
  const see = (along: number) => {
    const x = fromMm[0] + along * Math.cos(angleRad);
    const y = fromMm[1] + along * Math.sin(angleRad);
    const seen = pixelFromBoard(
      plan.lens,
      frame,
      x,
      y,
      boardHeight(scene.board.shape, x, y) + heightMm,
    );
    if (!seen) throw new RangeError('the rule lies behind the camera');
    return seen;
  };
  return [see(0), see(lengthMm)];
}

export interface NodeToMeasure {
  readonly xMm: number;
  readonly yMm: number;
  readonly approachX: Approach;
  readonly approachY: Approach;
}

export interface NodeMeasuring {
  /** Standard deviations of reading each coordinate and of the mark itself; mm. */
  readonly sigmaMm: number;
  readonly sigmaMarkMm: number;
  /** How the board lies in the frame of the instrument. */
  readonly rotationRad: number;
  readonly shiftMm: readonly [number, number];
  /** Length shown over true length. */
  readonly scale: number;
  readonly seed: number;
}

/** Where an instrument with a frame of its own finds the nodes; mm. */
export function measureNodes(
  scene: Scene,
  nodes: readonly NodeToMeasure[],
  { sigmaMm, sigmaMarkMm, rotationRad, shiftMm, scale, seed }: NodeMeasuring,
): [number, number][] {
  const random = createRandomSource(seed).fork('nodes');
  const [cos, sin] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  return nodes.map(({ xMm, yMm, approachX, approachY }) => {
    const [landedX, landedY] = landedPosition(scene.machine, xMm, yMm, approachX, approachY);
    const x = landedX + sigmaMarkMm * random.normal();
    const y = landedY + sigmaMarkMm * random.normal();
    return [
      scale * (cos * x - sin * y + shiftMm[0]) + sigmaMm * random.normal(),
      scale * (sin * x + cos * y + shiftMm[1]) + sigmaMm * random.normal(),
    ];
  });
}
