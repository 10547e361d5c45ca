/** The observation equation of a rule that lies in a picture. */

import { commandedFromImage } from '../marks/index.js';
import { BOARD_SIZE } from './board-surface.js';
import {
  CAMERA_SIZE,
  makeProjection,
  POSE_SIZE,
  type Pose,
  type Projection,
  project,
  WANDER_SIZE,
} from './camera-model.js';
import { cameraValues, type Network, type NetworkState } from './network.js';
import type { RuleInPicture } from './network-input.js';
import { WARP_SIZE } from './picture-warp.js';

export interface RuleEquation {
  /** Length as stated minus as computed, mm. */
  readonly residual: number;
  /** Standard deviation of the stated length and of both pixels on the board, mm. */
  readonly sigma: number;
}

/** The homography starts within a few pixels; Newton's method then gains digits by doubling. */
const MOST_STEPS = 20;
const CLOSE_ENOUGH_MM = 1e-9;

/**
 * The places of both graduations would be four unknowns, and their pixels four observations that fix just
 * these. So each pixel is followed down to the board, and what is left is one equation: the distance there
 * is the rule's length. The pixels' uncertainty goes along, through the same derivatives.
 *
 * @param put receives the derivatives of the computed length by the unknowns.
 */
export function lineariseRule(
  network: Network,
  state: NetworkState,
  rule: RuleInPicture,
  pose: Pose,
  put: (parameter: number, slope: number) => void,
): RuleEquation {
  const { values } = state;
  const { input, cameraAt, wanderAt, poseAt, boardAt, surface, ruleAt, ruleHeightAt } = network;
  const { warpAt, warp } = network;
  const bend = new Float64Array(WARP_SIZE / 2);
  const photo = input.photos[rule.photo];
  const own = {
    camera: cameraAt[photo.camera],
    wander: wanderAt[rule.photo],
    pose: poseAt[rule.photo],
  };
  const camera = cameraValues(network, state, photo.camera);
  const wander = values.subarray(own.wander, own.wander + WANDER_SIZE);
  const board = values.subarray(boardAt, boardAt + BOARD_SIZE);
  const projection = makeProjection();
  const byTerm = new Float64Array(BOARD_SIZE);
  const hasHeight = ruleHeightAt >= 0 && rule.heightUMm > 0;
  const heightMm = rule.heightMm + (hasHeight ? rule.heightUMm * values[ruleHeightAt] : 0);
  const look = (x: number, y: number) => {
    const surfaceThere = surface.at(board, x, y, byTerm);
    const graduation = { ...surfaceThere, z: surfaceThere.z + heightMm };
    project(camera, wander, pose, x, y, projection, graduation);
    if (warpAt.length > 0) {
      const at = warpAt[rule.photo];
      warp.bend(values.subarray(at, at + WARP_SIZE), x, y, projection, bend);
    }
  };
  const places = [rule.fromPx, rule.toPx].map((seen) =>
    followDown(seen, commandedFromImage(photo, seen), look, projection),
  );
  const dx = places[1][0] - places[0][0];
  const dy = places[1][1] - places[0][1];
  const distance = Math.hypot(dx, dy);
  const stretch = rule.trueOverRead ?? 1;
  const bends = warpAt.length > 0 ? WARP_SIZE : 0;
  const parameters = CAMERA_SIZE + WANDER_SIZE + POSE_SIZE + BOARD_SIZE + bends;
  const slopes = new Float64Array(parameters);
  let variance = rule.uMm ** 2;
  let byCommonHeight = 0;
  for (const [sense, [x, y]] of [
    [-1, places[0]],
    [1, places[1]],
  ] as const) {
    look(x, y);
    const [a, b, c, d] = projection.byBoard;
    const determinant = a * d - b * c;
    const ex = (sense * dx) / distance / stretch;
    const ey = (sense * dy) / distance / stretch;
    // Length by pixel: along the rule, by the inverse of pixel by board.
    const byU = (ex * d - ey * c) / determinant;
    const byV = (ey * a - ex * b) / determinant;
    variance += rule.sigmaPx ** 2 * (byU ** 2 + byV ** 2);
    // What would move the image of a fixed place moves the place of a fixed image the other way.
    let k = 0;
    for (const list of [projection.byCamera, projection.byWander, projection.byPose]) {
      const size = list.length / 2;
      for (let i = 0; i < size; i++) slopes[k++] -= byU * list[i] + byV * list[size + i];
    }
    const byHeight = byU * projection.byHeight[0] + byV * projection.byHeight[1];
    for (let i = 0; i < BOARD_SIZE; i++) slopes[k++] -= byHeight * byTerm[i];
    for (let i = 0; i < bends; i++) {
      slopes[k++] -= (i < bend.length ? byU : byV) * bend[i % bend.length];
    }
    byCommonHeight -= byHeight;
  }
  let k = 0;
  for (const [first, size] of [
    [own.camera, CAMERA_SIZE],
    [own.wander, WANDER_SIZE],
    [own.pose, POSE_SIZE],
    [boardAt, BOARD_SIZE],
    [warpAt[rule.photo] ?? 0, bends],
  ] as const) {
    for (let i = 0; i < size; i++) put(first + i, slopes[k++]);
  }
  if (hasHeight) put(ruleHeightAt, rule.heightUMm * byCommonHeight);
  let computed = distance / stretch;
  if (ruleAt >= 0 && rule.ruleScaleU > 0) {
    // The doubt is shared in the proportion in which it was stated.
    const share = rule.ruleScaleU / network.table.list[ruleAt].priorSigma;
    put(ruleAt, -rule.lengthMm * share);
    computed -= rule.lengthMm * share * values[ruleAt];
  }
  return { residual: rule.lengthMm - computed, sigma: Math.sqrt(variance) };
}

/** The place (mm) whose image is the pixel, by Newton's method; `look` fills the projection. */
function followDown(
  [u, v]: readonly [number, number],
  start: readonly [number, number],
  look: (x: number, y: number) => void,
  projection: Projection,
): readonly [number, number] {
  let [x, y] = start;
  for (let step = 0; step < MOST_STEPS; step++) {
    look(x, y);
    const [a, b, c, d] = projection.byBoard;
    const du = u - projection.u;
    const dv = v - projection.v;
    const determinant = a * d - b * c;
    const dx = (d * du - b * dv) / determinant;
    const dy = (a * dv - c * du) / determinant;
    x += dx;
    y += dy;
    if (Math.abs(dx) + Math.abs(dy) < CLOSE_ENOUGH_MM) break;
  }
  return [x, y];
}
