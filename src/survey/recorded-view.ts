/**
 * A photo as a view of machine coordinates from a saved measurement alone: from where the corners of the grid were
 * seen in it, and from its camera.
 */

import type { CameraRecord, PhotoRecord } from '../../shared/schemas/measurement.js';
import { fitProjectiveMap } from '../numerics/index.js';

export interface RecordedView {
  /** Pixel of the picture as it is stored. */
  imageAt(xMm: number, yMm: number, heightMm: number): readonly [u: number, v: number];
}

/**
 * The measurement keeps four points and the cameras' shared terms, not how each photo departed from its camera or how
 * the machine's guides bend: places between the corners are off by some hundredths of a pixel for it.
 */
export const RECORDED_U_PX = 0.15;

/** Undistorting: each round gains a factor of ten or more. */
const ROUNDS = 20;

/** @returns undefined where the record does not tell, or software had turned the picture. */
export function recordedView(
  photo: PhotoRecord,
  cameras: readonly CameraRecord[],
): RecordedView | undefined {
  const { corners, widthPx, heightPx } = photo;
  const camera = photo.camera === undefined ? undefined : cameras[photo.camera];
  if (corners === undefined || camera === undefined) return undefined;
  if (camera.widthPx !== widthPx || camera.heightPx !== heightPx) return undefined;
  const { distort, undistort } = lensOf(camera);
  const map = fitProjectiveMap(corners.map(({ x, y, u, v }) => [x, y, ...undistort(u, v)]));
  if (map === undefined) return undefined;
  const [{ x: x0, y: y0 }] = corners;
  // What is seen lies before the camera.
  const h = map.map((one) => one * Math.sign(map[6] * x0 + map[7] * y0 + map[8]));
  // The first two columns of a homography into ideal coordinates are the board's axes, and the third axis is square
  // to both.
  const [a, b] = [0, 1].map((k) => [h[k], h[3 + k], h[6 + k]]);
  const length = Math.sqrt(Math.hypot(...a) * Math.hypot(...b));
  const up = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]].map(
    (one) => one / length,
  );
  return {
    imageAt(x, y, height) {
      const p = [0, 1, 2].map(
        (k) => h[3 * k] * x + h[3 * k + 1] * y + h[3 * k + 2] + up[k] * height,
      );
      return distort(p[0] / p[2], p[1] / p[2]);
    },
  };
}

/** Brown's lens as the adjustment has it, without the terms that the record does not keep. */
function lensOf(camera: CameraRecord) {
  const value = (term: Exclude<keyof CameraRecord, 'make' | 'model'>) =>
    (camera[term] as { readonly value: number }).value;
  const [f, cx, cy] = [value('f'), value('cx'), value('cy')];
  const [k1, k2, k3] = [value('k1'), value('k2'), value('k3')];
  const [p1, p2] = [value('p1'), value('p2')];
  const [aspect, skew] = [value('aspect'), value('skew')];
  const ex = (value('distortionCentreX') - cx) / f;
  const ey = (value('distortionCentreY') - cy) / f;
  const distort = (x: number, y: number): readonly [number, number] => {
    const [dx, dy] = [x - ex, y - ey];
    const r2 = dx * dx + dy * dy;
    const radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
    const xd = ex + dx * radial + 2 * p1 * dx * dy + p2 * (r2 + 2 * dx * dx);
    const yd = ey + dy * radial + p1 * (r2 + 2 * dy * dy) + 2 * p2 * dx * dy;
    return [cx + f * (1 + aspect) * xd + f * skew * yd, cy + f * yd];
  };
  const undistort = (u: number, v: number): readonly [number, number] => {
    let [x, y] = [(u - cx) / f, (v - cy) / f];
    for (let round = 0; round < ROUNDS; round++) {
      const [ru, rv] = distort(x, y);
      x += (u - ru) / f;
      y += (v - rv) / f;
    }
    return [x, y];
  };
  return { distort, undistort };
}
