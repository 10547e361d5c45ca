/**
 * A photo as a view of machine coordinates: the pixel in which a place over the board is seen that the machine calls
 * (x, y), and how the place read from a pixel shifts with every parameter of the adjustment.
 */

import { factorise } from '../numerics/index.js';
import type { SensorPoint } from '../quantity/index.js';
import type { Adjustment } from './adjust.js';
import { BOARD_SIZE } from './board-surface.js';
import { CAMERA_SIZE, makeProjection, POSE_SIZE, project, WANDER_SIZE } from './camera-model.js';
import { cameraOf } from './image-position.js';
import { tieCentre } from './linearise.js';
import { isCentreTied, machineValuesOf } from './network.js';
import { WARP_SIZE } from './picture-warp.js';

export interface CommandedView {
  /** @param heightMm over the board's own surface there. */
  imageAt(xMm: number, yMm: number, heightMm: number): SensorPoint;
  /** Derivatives of the place (x, then y; mm) read at the pixel of (x, y, height) by all parameters. */
  placeByParameters(xMm: number, yMm: number, heightMm: number): [Float64Array, Float64Array];
}

/** Machine coordinates are those of the first placement, mean of both approaches. */
export function commandedView(adjustment: Adjustment, photo: number): CommandedView {
  const { network, state } = adjustment;
  const { machine, machineAt, surface, boardAt, warp, warpAt, wanderAt, poseAt, cameraAt, input } =
    network;
  const { camera, wander, pose } = cameraOf(adjustment, photo);
  const machineValues = machineValuesOf(network, state, 0);
  const board = state.values.slice(boardAt, boardAt + BOARD_SIZE);
  const [at] = warpAt.slice(photo, photo + 1);
  const bends = at === undefined ? undefined : state.values.slice(at, at + WARP_SIZE);
  const basis = new Float64Array(WARP_SIZE / 2);
  const byTerm = new Float64Array(BOARD_SIZE);
  const projection = makeProjection();
  const see = (xMm: number, yMm: number, heightMm: number) => {
    const X = machine.across('x', machineValues, xMm, yMm, undefined, 0);
    const Y = machine.across('y', machineValues, xMm, yMm, undefined, 0);
    const ground = surface.at(board, X, Y, byTerm);
    project(camera, wander, pose, X, Y, projection, { ...ground, z: ground.z + heightMm });
    if (bends !== undefined) warp.bend(bends, X, Y, projection, basis);
  };
  return {
    imageAt(xMm, yMm, heightMm) {
      see(xMm, yMm, heightMm);
      return [projection.u, projection.v];
    },
    placeByParameters(xMm, yMm, heightMm) {
      see(xMm, yMm, heightMm);
      const size = network.table.size;
      const [u, v] = [new Float64Array(size), new Float64Array(size)];
      const put = (first: number, count: number, by: Float64Array) => {
        for (let k = 0; k < count; k++) {
          u[first + k] += by[k];
          v[first + k] += by[count + k];
        }
      };
      if (isCentreTied(input)) tieCentre(projection.byCamera);
      put(cameraAt[input.photos[photo].camera], CAMERA_SIZE, projection.byCamera);
      put(wanderAt[photo], WANDER_SIZE, projection.byWander);
      put(poseAt[photo], POSE_SIZE, projection.byPose);
      if (at !== undefined) {
        basis.forEach((slope, k) => {
          u[at + k] += slope;
          v[at + basis.length + k] += slope;
        });
      }
      const { byBoard: b, byHeight } = projection;
      byTerm.forEach((slope, k) => {
        u[boardAt + k] += byHeight[0] * slope;
        v[boardAt + k] += byHeight[1] * slope;
      });
      const indexOf = machineAt[0];
      for (const [axis, column] of [
        ['x', 0],
        ['y', 1],
      ] as const) {
        machine.across(axis, machineValues, xMm, yMm, undefined, 0, (term, slope) => {
          u[indexOf[term]] += b[column] * slope;
          v[indexOf[term]] += b[2 + column] * slope;
        });
      }
      // What moves the picture of a place by (u, v) moves the place read at a pixel the other way. The machine's own
      // errors turn commanded steps into steps on the board by next to nothing.
      const determinant = b[0] * b[3] - b[1] * b[2];
      return [
        u.map((one, k) => (-b[3] * one + b[1] * v[k]) / determinant),
        u.map((one, k) => (b[2] * one - b[0] * v[k]) / determinant),
      ];
    },
  };
}

/**
 * Lower factor L of the covariance of all parameters, L Lᵀ: derivatives times L are those by independent variables of
 * unit variance.
 */
export function parameterFactor({ covariance, network }: Adjustment): Float64Array {
  const n = network.table.size;
  const scale = Float64Array.from({ length: n }, (_, i) => Math.sqrt(covariance[i * n + i]) || 1);
  for (let jitter = 0; jitter < 1e-3; jitter = jitter === 0 ? 1e-12 : jitter * 10) {
    // Correlations instead of covariances: the parameters' sizes differ by many powers of ten.
    const factor = covariance.map((one, k) => one / (scale[Math.floor(k / n)] * scale[k % n]));
    for (let i = 0; i < n; i++) factor[i * n + i] += jitter;
    if (!factorise(factor, n)) continue;
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) factor[i * n + j] = j > i ? 0 : factor[i * n + j] * scale[i];
    }
    return factor;
  }
  throw new Error('the covariance of the adjustment is none');
}
