/**
 * Pinhole camera with Brown-Conrady distortion about a centre of its own, and the derivatives of
 * the image position by interior orientation, pose and board position.
 *
 *   camera frame   c = R (X, Y, Z) + t,  t = (a ρ, b ρ, ρ f)   (so a change of f keeps the affine image)
 *   ideal          x = cx / cz, y = cy / cz
 *   lens shape     x ← x (1 + lensAspect) + lensSkew y  (a lens that is not quite round; else a strong
 *                  lens distortion alone would seem to fix the shape of the pixels)
 *   distortion     d = (x, y) - e,  e = (distortion centre - principal point) / f
 *                  x' = e + d (1 + k1 r² + k2 r⁴ + k3 r⁶) + tangential(p1, p2)
 *   pixel          u = cu + f (1 + aspect) x' + f skew y',  v = cv + f y'
 *
 * Sources: Brown, Close-range camera calibration (1971), with p1 and p2 in the order customary in
 * computer vision. Camera frame: X right, Y down, Z forward.
 */

import type { SurfacePoint } from './board-surface.js';

const FLAT: SurfacePoint = { z: 0, slopeX: 0, slopeY: 0 };

/** Terms of a camera that its photos share. */
export const CAMERA_TERMS = [
  'f',
  'cu',
  'cv',
  'k1',
  'k2',
  'k3',
  'p1',
  'p2',
  'centreU',
  'centreV',
  'aspect',
  'skew',
  'lensAspect',
  'lensSkew',
] as const;
/** Where principal point and distortion centre stand among them. */
export const CENTRE = CAMERA_TERMS.indexOf('cu');
export const DISTORTION_CENTRE = CAMERA_TERMS.indexOf('centreU');
/** Departures of one photo from its camera: f by its relative change. */
export const WANDER_TERMS = ['f', 'cu', 'cv', 'aspect', 'skew'] as const;
export const POSE_TERMS = ['rotationX', 'rotationY', 'rotationZ', 'a', 'b', 'rho'] as const;

export const CAMERA_SIZE = CAMERA_TERMS.length;
export const WANDER_SIZE = WANDER_TERMS.length;
export const POSE_SIZE = POSE_TERMS.length;

/** Exterior orientation of one photo. */
export interface Pose {
  /** Camera from board, 3×3 row-major. */
  readonly rotation: Float64Array;
  /** Principal-point offset of the board's origin, px. */
  a: number;
  b: number;
  /** Board millimetres per pixel at the origin, mm/px. */
  rho: number;
}

/** Image position and its derivatives; reused between calls to spare allocation. */
export interface Projection {
  u: number;
  v: number;
  /** du, dv by the camera terms, the wander terms, the pose terms and the board position. */
  readonly byCamera: Float64Array;
  readonly byWander: Float64Array;
  readonly byPose: Float64Array;
  readonly byBoard: Float64Array;
  /** du, dv by the height of the board there. */
  readonly byHeight: Float64Array;
}

export function makeProjection(): Projection {
  return {
    u: 0,
    v: 0,
    byCamera: new Float64Array(2 * CAMERA_SIZE),
    byWander: new Float64Array(2 * WANDER_SIZE),
    byPose: new Float64Array(2 * POSE_SIZE),
    byBoard: new Float64Array(4),
    byHeight: new Float64Array(2),
  };
}

/**
 * Projects a board position.
 *
 * @param camera the shared terms, order of `CAMERA_TERMS`; f, centres px.
 * @param wander the photo's departures, order of `WANDER_TERMS`.
 * @param surface height of the board at that position and its slopes; flat where absent.
 * @param into receives u, v (px, sensor frame) and, row by row (u then v), the derivatives.
 */
export function project(
  camera: Float64Array,
  wander: Float64Array,
  pose: Pose,
  xMm: number,
  yMm: number,
  into: Projection,
  surface: Readonly<SurfacePoint> = FLAT,
): void {
  const [f0, cu0, cv0, k1, k2, k3, p1, p2, centreU, centreV, aspect0, skew0, lensA, lensS] = camera;
  const f = f0 * (1 + wander[0]);
  const cu = cu0 + wander[1];
  const cv = cv0 + wander[2];
  const fu = f * (1 + aspect0 + wander[3]);
  const fs = f * (skew0 + wander[4]);
  const r = pose.rotation;
  const { a, b, rho } = pose;

  const { z, slopeX, slopeY } = surface;
  const rx = r[0] * xMm + r[1] * yMm + r[2] * z;
  const ry = r[3] * xMm + r[4] * yMm + r[5] * z;
  const rz = r[6] * xMm + r[7] * yMm + r[8] * z;
  const depth = rz + rho * f;
  const plainX = (rx + a * rho) / depth;
  const y = (ry + b * rho) / depth;
  const x = plainX * (1 + lensA) + lensS * y;

  const eu = (centreU - cu) / f;
  const ev = (centreV - cv) / f;
  const dx = x - eu;
  const dy = y - ev;
  const r2 = dx * dx + dy * dy;
  const radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
  const radialSlope = k1 + r2 * (2 * k2 + 3 * r2 * k3);
  const xd = eu + dx * radial + 2 * p1 * dx * dy + p2 * (r2 + 2 * dx * dx);
  const yd = ev + dy * radial + p1 * (r2 + 2 * dy * dy) + 2 * p2 * dx * dy;
  into.u = cu + fu * xd + fs * yd;
  into.v = cv + f * yd;

  // Distorted by undistorted, both normalised.
  const xdx = radial + 2 * dx * dx * radialSlope + 2 * p1 * dy + 6 * p2 * dx;
  const xdy = 2 * dx * dy * radialSlope + 2 * p1 * dx + 2 * p2 * dy;
  const ydx = xdy;
  const ydy = radial + 2 * dy * dy * radialSlope + 6 * p1 * dy + 2 * p2 * dx;
  // Pixel by undistorted normalised.
  const uxLens = fu * xdx + fs * ydx;
  const vxLens = f * ydx;
  // The same by the position before the lens shape.
  const ux = uxLens * (1 + lensA);
  const uy = fu * xdy + fs * ydy + uxLens * lensS;
  const vx = vxLens * (1 + lensA);
  const vy = f * ydy + vxLens * lensS;
  // Pixel by the distortion centre in normalised units: e moves out and back in through d.
  const ueu = fu * (1 - xdx) - fs * ydx;
  const uev = -fu * xdy + fs * (1 - ydy);
  const veu = -f * ydx;
  const vev = f * (1 - ydy);

  // By f: directly in the pixel, through the depth, and through e.
  const depthByF = rho;
  const xByF = (-plainX * depthByF) / depth;
  const yByF = (-y * depthByF) / depth;
  const uByF =
    (fu / f) * xd + (fs / f) * yd + ux * xByF + uy * yByF - (ueu * eu) / f - (uev * ev) / f;
  const vByF = yd + vx * xByF + vy * yByF - (veu * eu) / f - (vev * ev) / f;

  const c = into.byCamera;
  const n = CAMERA_SIZE;
  c[0] = uByF * (1 + wander[0]);
  c[n] = vByF * (1 + wander[0]);
  c[1] = 1 - ueu / f;
  c[n + 1] = -veu / f;
  c[2] = -uev / f;
  c[n + 2] = 1 - vev / f;
  let power = r2;
  for (let k = 3; k < 6; k++) {
    c[k] = (fu * dx + fs * dy) * power;
    c[n + k] = f * dy * power;
    power *= r2;
  }
  c[6] = fu * 2 * dx * dy + fs * (r2 + 2 * dy * dy);
  c[n + 6] = f * (r2 + 2 * dy * dy);
  c[7] = fu * (r2 + 2 * dx * dx) + fs * 2 * dx * dy;
  c[n + 7] = f * 2 * dx * dy;
  c[8] = ueu / f;
  c[n + 8] = veu / f;
  c[9] = uev / f;
  c[n + 9] = vev / f;
  c[10] = f * xd;
  c[n + 10] = 0;
  c[11] = f * yd;
  c[n + 11] = 0;
  c[12] = uxLens * plainX;
  c[n + 12] = vxLens * plainX;
  c[13] = uxLens * y;
  c[n + 13] = vxLens * y;

  const w = into.byWander;
  const m = WANDER_SIZE;
  w[0] = uByF * f0;
  w[m] = vByF * f0;
  w[1] = c[1];
  w[m + 1] = c[n + 1];
  w[2] = c[2];
  w[m + 2] = c[n + 2];
  w[3] = c[10];
  w[m + 3] = 0;
  w[4] = c[11];
  w[m + 4] = 0;

  // By the camera-frame point, then by pose: a small rotation ω turns the rotated point r by ω × r.
  const uc = ux / depth;
  const ud = uy / depth;
  const uz = -(ux * plainX + uy * y) / depth;
  const vc = vx / depth;
  const vd = vy / depth;
  const vz = -(vx * plainX + vy * y) / depth;
  const p = into.byPose;
  const q = POSE_SIZE;
  p[0] = -ud * rz + uz * ry;
  p[1] = uc * rz - uz * rx;
  p[2] = -uc * ry + ud * rx;
  p[3] = uc * rho;
  p[4] = ud * rho;
  p[5] = uc * a + ud * b + uz * f;
  p[q] = -vd * rz + vz * ry;
  p[q + 1] = vc * rz - vz * rx;
  p[q + 2] = -vc * ry + vd * rx;
  p[q + 3] = vc * rho;
  p[q + 4] = vd * rho;
  p[q + 5] = vc * a + vd * b + vz * f;

  const h = into.byHeight;
  h[0] = uc * r[2] + ud * r[5] + uz * r[8];
  h[1] = vc * r[2] + vd * r[5] + vz * r[8];
  const s = into.byBoard;
  s[0] = uc * r[0] + ud * r[3] + uz * r[6] + h[0] * slopeX;
  s[1] = uc * r[1] + ud * r[4] + uz * r[7] + h[0] * slopeY;
  s[2] = vc * r[0] + vd * r[3] + vz * r[6] + h[1] * slopeX;
  s[3] = vc * r[1] + vd * r[4] + vz * r[7] + h[1] * slopeY;
}

/** Turns a pose by a small rotation vector (rad, camera frame): R ← exp(ω) R (Rodrigues). */
export function turnedRotation(
  rotation: Float64Array,
  wx: number,
  wy: number,
  wz: number,
): Float64Array {
  const angle = Math.hypot(wx, wy, wz);
  // sin θ / θ and (1 - cos θ) / θ² by their series near zero, where the quotients lose digits.
  const s = angle < 1e-4 ? 1 - (angle * angle) / 6 : Math.sin(angle) / angle;
  const h = Math.sin(angle / 2);
  const c = angle < 1e-4 ? 0.5 - (angle * angle) / 24 : (2 * h * h) / (angle * angle);
  const turn = [
    1 - c * (wy * wy + wz * wz),
    c * wx * wy - s * wz,
    c * wx * wz + s * wy,
    c * wx * wy + s * wz,
    1 - c * (wx * wx + wz * wz),
    c * wy * wz - s * wx,
    c * wx * wz - s * wy,
    c * wy * wz + s * wx,
    1 - c * (wx * wx + wy * wy),
  ];
  const result = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      result[3 * i + j] =
        turn[3 * i] * rotation[j] +
        turn[3 * i + 1] * rotation[3 + j] +
        turn[3 * i + 2] * rotation[6 + j];
    }
  }
  return result;
}
