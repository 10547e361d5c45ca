/** Where a photo of a network will show the segments. */

import { BOARD_SIZE } from './board-surface.js';
import { makeProjection, project, WANDER_SIZE } from './camera-model.js';
import { poseOf } from './linearise.js';
import { cameraValues, machineValuesOf, type Network, type NetworkState } from './network.js';
import type { LineObservation } from './network-input.js';
import { WARP_SIZE } from './picture-warp.js';

/** Step along a mark from which its direction in the picture is taken, mm. */
const STEP_MM = 0.5;
/** Marks nearer to the edge of the picture than this have no profile to be measured by, px. */
const RIM_PX = 8;

/**
 * The segments in view, each exactly where the state puts it.
 *
 * @param photo index into the network's photos; its own observations are not looked at.
 * @param segments indices of those that could be seen.
 */
export function expectObservations(
  network: Network,
  state: NetworkState,
  photo: number,
  segments: readonly number[],
  sigmaPx: number,
): LineObservation[] {
  const { input, machine, surface, wanderAt, placementAt, boardAt } = network;
  const { values } = state;
  const { camera: index } = input.photos[photo];
  const { widthPx, heightPx } = input.cameras[index];
  const camera = cameraValues(network, state, index);
  const wander = values.subarray(wanderAt[photo], wanderAt[photo] + WANDER_SIZE);
  const board = values.subarray(boardAt, boardAt + BOARD_SIZE);
  const [warpFrom] = network.warpAt.slice(photo);
  const warps =
    warpFrom === undefined ? undefined : values.subarray(warpFrom, warpFrom + WARP_SIZE);
  const basis = new Float64Array(WARP_SIZE / 2);
  const pose = poseOf(network, state, photo);
  const projection = makeProjection();
  const seen: LineObservation[] = [];
  for (const segment of segments) {
    const { axis, xMm, yMm, line, approach, isRepeated, placement, pair } = input.segments[segment];
    const other = pair === undefined ? undefined : input.segments[pair];
    const machineValues = machineValuesOf(network, state, placement);
    const place = (xAt: number, yAt: number): readonly [u: number, v: number] => {
      const [x, y] = (['x', 'y'] as const).map((across) =>
        across === axis
          ? machine.across(across, machineValues, xAt, yAt, line, approach, undefined, isRepeated)
          : machine.across(across, machineValues, xAt, yAt, other?.line, other?.approach ?? 0),
      );
      const at = placementAt[placement];
      const [c, s] = at < 0 ? [1, 0] : [Math.cos(values[at]), Math.sin(values[at])];
      const boardX = c * x - s * y + (at < 0 ? 0 : values[at + 1]);
      const boardY = s * x + c * y + (at < 0 ? 0 : values[at + 2]);
      const height = surface.at(board, boardX, boardY);
      project(camera, wander, pose, boardX, boardY, projection, height);
      if (warps !== undefined) network.warp.bend(warps, boardX, boardY, projection, basis);
      return [projection.u, projection.v];
    };
    const [dx, dy] = axis === 'x' ? [0, STEP_MM] : [STEP_MM, 0];
    const [fromU, fromV] = place(xMm - dx, yMm - dy);
    const [toU, toV] = place(xMm + dx, yMm + dy);
    const [uPx, vPx] = place(xMm, yMm);
    const inside =
      uPx >= RIM_PX && uPx <= widthPx - 1 - RIM_PX && vPx >= RIM_PX && vPx <= heightPx - 1 - RIM_PX;
    if (!inside) continue;
    const length = Math.hypot(toU - fromU, toV - fromV);
    const normalU = -(toV - fromV) / length;
    const normalV = (toU - fromU) / length;
    seen.push({ photo, segment, uPx, vPx, normalU, normalV, sigmaPx });
    if (other === undefined) continue;
    // A point shows where it lies along the line as well.
    seen.push({ photo, segment, uPx, vPx, normalU: normalV, normalV: -normalU, sigmaPx });
  }
  return seen;
}
