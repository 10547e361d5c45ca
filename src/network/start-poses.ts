/** Approximate poses from homographies, and the focal length that suits them where EXIF gives none. */

import type { Pose } from './camera-model.js';
import type { NetworkCamera, NetworkPhoto } from './network-input.js';

export interface StartPose {
  readonly pose: Pose;
  /** How far the homography is from a turned and shifted plane: 0 for a perfect fit. */
  readonly misfit: number;
}

/** Range of focal lengths tried without EXIF, in units of the longer side: fisheye to short tele. */
const FOCAL_SCAN = { from: 0.5, to: 3, steps: 36 } as const;
/** A phone's main lens: about 26 mm of the 36 mm frame's longer side. Common practice, no source. */
export const USUAL_FOCAL = 0.74;

/** Machine errors and lens leave misfits of this size; focal lengths spread by this factor (logarithm). */
const MISFIT_SIGMA = 5e-3;
const FOCAL_SPREAD = 0.3;

/**
 * Pose from a homography H = K [r1 r2 t] λ (Zhang, A flexible new technique for camera calibration,
 * 2000), the camera above the board.
 *
 * @returns undefined for a homography that no camera above the board can see (a mirrored one).
 */
export function poseFromHomography(
  homography: Float64Array,
  focalPx: number,
  centreU: number,
  centreV: number,
): StartPose | undefined {
  const h = homography;
  const column = (j: number): [number, number, number] => [
    (h[j] - centreU * h[6 + j]) / focalPx,
    (h[3 + j] - centreV * h[6 + j]) / focalPx,
    h[6 + j],
  ];
  const [b1, b2, b3] = [column(0), column(1), column(2)];
  const n1 = Math.hypot(...b1);
  const n2 = Math.hypot(...b2);
  const sign = b3[2] < 0 ? -1 : 1;
  const scale = sign / Math.sqrt(n1 * n2);
  const first = b1.map((v) => v * scale);
  const second = b2.map((v) => v * scale);
  const t = b3.map((v) => v * scale);
  const dot = first[0] * second[0] + first[1] * second[1] + first[2] * second[2];
  // Nearest pair of orthonormal directions: half the angle's defect is taken from each.
  const half = dot / 2;
  const r1 = unit(first.map((v, i) => v - half * second[i]));
  let r2 = second.map((v, i) => v - half * first[i]);
  const rest = r1[0] * r2[0] + r1[1] * r2[1] + r1[2] * r2[2];
  r2 = unit(r2.map((v, i) => v - rest * r1[i]));
  const r3 = [
    r1[1] * r2[2] - r1[2] * r2[1],
    r1[2] * r2[0] - r1[0] * r2[2],
    r1[0] * r2[1] - r1[1] * r2[0],
  ];
  // The board's normal must look back at the camera.
  if (!(t[2] > 0) || r3[0] * t[0] + r3[1] * t[1] + r3[2] * t[2] >= 0) return undefined;
  const rho = t[2] / focalPx;
  return {
    pose: {
      rotation: Float64Array.from([r1[0], r2[0], r3[0], r1[1], r2[1], r3[1], r1[2], r2[2], r3[2]]),
      a: t[0] / rho,
      b: t[1] / rho,
      rho,
    },
    misfit: Math.hypot(dot, Math.log(n1 / n2)),
  };
}

/** Focal length (px) at which a camera's photos best look like pictures of one flat board. */
export function scanFocalLength(camera: NetworkCamera, photos: readonly NetworkPhoto[]): number {
  const longest = Math.max(camera.widthPx, camera.heightPx);
  let best = USUAL_FOCAL * longest;
  let least = Number.POSITIVE_INFINITY;
  const ratio = FOCAL_SCAN.to / FOCAL_SCAN.from;
  for (let i = 0; i <= FOCAL_SCAN.steps; i++) {
    const focal = longest * FOCAL_SCAN.from * ratio ** (i / FOCAL_SCAN.steps);
    let misfit = 0;
    for (const photo of photos) {
      const start = poseFromHomography(
        photo.homography,
        focal,
        (camera.widthPx - 1) / 2,
        (camera.heightPx - 1) / 2,
      );
      misfit += start === undefined ? 10 : start.misfit ** 2;
    }
    // Near overhead all focal lengths fit alike: the usual one is kept unless another is clearly better.
    misfit += (MISFIT_SIGMA * Math.log(focal / (USUAL_FOCAL * longest))) ** 2 / FOCAL_SPREAD ** 2;
    if (misfit < least) {
      least = misfit;
      best = focal;
    }
  }
  return best;
}

function unit(v: readonly number[]): number[] {
  const length = Math.hypot(v[0], v[1], v[2]);
  return v.map((c) => c / length);
}
