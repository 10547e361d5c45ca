/** Where board and commanded positions appear in a photo after the adjustment. */

import type { CommandedPoint, SensorPoint } from '../quantity/index.js';
import type { Adjustment } from './adjust.js';
import { BOARD_SIZE } from './board-surface.js';
import { makeProjection, type Pose, project, WANDER_SIZE } from './camera-model.js';
import { poseOf } from './linearise.js';
import { cameraValues } from './network.js';
import { WARP_SIZE } from './picture-warp.js';

export function cameraOf(
  { network, state }: Adjustment,
  photo: number,
): { camera: Float64Array; wander: Float64Array; pose: Pose } {
  const wanderAt = network.wanderAt[photo];
  return {
    camera: cameraValues(network, state, network.input.photos[photo].camera),
    wander: state.values.slice(wanderAt, wanderAt + WANDER_SIZE),
    pose: poseOf(network, state, photo),
  };
}

/** @returns sensor pixel of a board position (mm). */
export function imageFromBoard(
  adjustment: Adjustment,
  photo: number,
): (xMm: number, yMm: number) => SensorPoint {
  const { camera, wander, pose } = cameraOf(adjustment, photo);
  const projection = makeProjection();
  const { surface, boardAt, warp, warpAt } = adjustment.network;
  const board = adjustment.state.values.slice(boardAt, boardAt + BOARD_SIZE);
  const [at] = warpAt.slice(photo);
  const bends = at === undefined ? undefined : adjustment.state.values.slice(at, at + WARP_SIZE);
  const basis = new Float64Array(WARP_SIZE / 2);
  return (xMm, yMm) => {
    project(camera, wander, pose, xMm, yMm, projection, surface.at(board, xMm, yMm));
    if (bends !== undefined) warp.bend(bends, xMm, yMm, projection, basis);
    return [projection.u, projection.v];
  };
}

/** Board position (mm) on which a commanded position of the first placement lands, mean of both approaches. */
export function boardFromCommanded(
  { network, state }: Adjustment,
  [xMm, yMm]: CommandedPoint,
): readonly [number, number] {
  const { machine } = network;
  const values = state.values.subarray(0, machine.terms.length);
  return [
    machine.across('x', values, xMm, yMm, undefined, 0),
    machine.across('y', values, xMm, yMm, undefined, 0),
  ];
}
