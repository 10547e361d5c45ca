/** Where a camera has to stand for a wanted view of the grid. */

import { type Pose, turnedRotation } from './camera-model.js';
import type { NetworkPhoto } from './network-input.js';

/** How a photo is to be taken. */
export interface PlannedView {
  /** Between the camera's axis and the board's normal, rad. */
  readonly tiltRad: number;
  /** Direction on the board, from its middle, over which the tilted camera stands; from X toward Y, rad. */
  readonly towardRad: number;
  /** Turn of the sensor's rows against the board's X, counter-clockwise seen from above, rad. */
  readonly rollRad: number;
  /** Where the axis meets the board, from the grid's middle, mm. */
  readonly aimMm: readonly [number, number];
}

export interface PlainCamera {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly focalLengthPx: number;
}

/** Corners that a picture is to show, mm. */
export interface Extent {
  readonly x: readonly [number, number];
  readonly y: readonly [number, number];
}

/** The board nearer than this many focal widths is seen by no camera; farther: a speck. */
const DISTANCE_RANGE = { from: 1e-2, to: 1e4, steps: 60 } as const;

/**
 * The pose of a camera that sees the extent in the wanted view, as near as its frame allows.
 *
 * @param fill share of the picture, from its middle to its edges, within which the corners lie; 0..1.
 */
export function poseOfView(
  view: PlannedView,
  camera: PlainCamera,
  extent: Extent,
  fill: number,
): Pose {
  const rotation = rotationOfView(view);
  const aim = [
    (extent.x[0] + extent.x[1]) / 2 + view.aimMm[0],
    (extent.y[0] + extent.y[1]) / 2 + view.aimMm[1],
  ] as const;
  return nearestPose(rotation, aim, camera, extent, fill);
}

/**
 * The same camera turned about its viewing direction, counter-clockwise seen from above, and drawn back as far
 * as its frame asks.
 */
export function turnedPose(
  pose: Pose,
  quarterTurns: number,
  camera: PlainCamera,
  extent: Extent,
  fill: number,
): Pose {
  const rotation = turnedRotation(pose.rotation, 0, 0, (quarterTurns * Math.PI) / 2);
  const { rotation: r, a, b, rho } = pose;
  const t = [a * rho, b * rho, rho * camera.focalLengthPx];
  // The axis meets the board where the third row of R (X, Y, 0) + t leaves nothing beside it.
  const centre = [0, 1, 2].map((k) => -(r[k] * t[0] + r[3 + k] * t[1] + r[6 + k] * t[2]));
  const reach = -centre[2] / r[8];
  const aim = [centre[0] + reach * r[6], centre[1] + reach * r[7]] as const;
  return nearestPose(rotation, aim, camera, extent, fill);
}

function rotationOfView({ tiltRad, towardRad, rollRad }: PlannedView): Float64Array {
  const [c, s] = [Math.cos(rollRad), Math.sin(rollRad)];
  const above = Float64Array.from([c, s, 0, s, -c, 0, 0, 0, -1]);
  // The board's normal leans toward the camera: the camera turns the other way round.
  const axis = [-Math.sin(towardRad), Math.cos(towardRad), 0].map((n) => -tiltRad * n);
  const [wx, wy, wz] = [0, 3, 6].map((row) => above[row] * axis[0] + above[row + 1] * axis[1]);
  return turnedRotation(above, wx, wy, wz);
}

function nearestPose(
  rotation: Float64Array,
  aim: readonly [number, number],
  camera: PlainCamera,
  extent: Extent,
  fill: number,
): Pose {
  const span = spanOf(extent);
  let [near, far] = [DISTANCE_RANGE.from * span, DISTANCE_RANGE.to * span];
  for (let i = 0; i < DISTANCE_RANGE.steps; i++) {
    const middle = Math.sqrt(near * far);
    if (fillOf(poseAt(rotation, aim, middle, camera), camera, extent) <= fill) far = middle;
    else near = middle;
  }
  return poseAt(rotation, aim, far, camera);
}

function poseAt(
  r: Float64Array,
  [x, y]: readonly [number, number],
  distanceMm: number,
  { focalLengthPx }: PlainCamera,
): Pose {
  const tx = -(r[0] * x + r[1] * y);
  const ty = -(r[3] * x + r[4] * y);
  const rho = (distanceMm - (r[6] * x + r[7] * y)) / focalLengthPx;
  return { rotation: r, a: tx / rho, b: ty / rho, rho };
}

/** Share of the picture, from its middle to its edges, that the extent takes up; above 1 it is cut. */
export function fillOf(
  { rotation: r, a, b, rho }: Pose,
  { widthPx, heightPx, focalLengthPx: f }: PlainCamera,
  extent: Extent,
): number {
  const shares = extent.x.flatMap((x) =>
    extent.y.map((y) => {
      const depth = r[6] * x + r[7] * y + rho * f;
      if (!(depth > 0)) return Number.POSITIVE_INFINITY;
      const u = (f * (r[0] * x + r[1] * y + a * rho)) / depth;
      const v = (f * (r[3] * x + r[4] * y + b * rho)) / depth;
      return Math.max((2 * Math.abs(u)) / widthPx, (2 * Math.abs(v)) / heightPx);
    }),
  );
  return Math.max(...shares);
}

/** A photo to begin with that has no distortion, the principal point in the middle. */
export function plainPhoto(
  homography: Float64Array,
  camera: number,
  { widthPx, heightPx }: Pick<PlainCamera, 'widthPx' | 'heightPx'>,
): NetworkPhoto {
  return {
    camera,
    homography,
    centrePx: [(widthPx - 1) / 2, (heightPx - 1) / 2],
    radiusPx: Math.hypot(widthPx, heightPx) / 2,
    k1: 0,
    k2: 0,
  };
}

/** Length of the extent's diagonal, mm. */
export function spanOf({ x, y }: Extent): number {
  return Math.hypot(x[1] - x[0], y[1] - y[0]);
}

/** K [r1 r2 t] of a pose, the principal point in the middle. */
export function homographyOfPose(
  { rotation: r, a, b, rho }: Pose,
  { widthPx, heightPx, focalLengthPx: f }: PlainCamera,
): Float64Array {
  const centre = [(widthPx - 1) / 2, (heightPx - 1) / 2];
  const third = [r[6], r[7], rho * f];
  const row = (k: number, shift: number, c: number) =>
    [r[3 * k], r[3 * k + 1], shift * rho].map((value, j) => f * value + c * third[j]);
  return Float64Array.from([...row(0, a, centre[0]), ...row(1, b, centre[1]), ...third]);
}
