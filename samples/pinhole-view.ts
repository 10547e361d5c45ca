/**
 * The simulator's own camera: a place in the room from which rays go through the pixels to the board.
 * Board frame: X, Y in the board, Z up. Sensor: u right, v down, the centre of the first pixel (0, 0).
 */

export type Vector = readonly [number, number, number];

/** Where the camera stands and how it is held. */
export interface CameraStand {
  /** Board point that the optical axis meets; mm. */
  readonly aimMm: readonly [number, number];
  /** From the centre of projection to that point; mm. */
  readonly distanceMm: number;
  /** Between the optical axis and the vertical; rad. */
  readonly tiltRad: number;
  /** Side of the aim over which the camera stands, anticlockwise from +X; rad. */
  readonly azimuthRad: number;
  /**
   * Turn about the optical axis, clockwise for who looks through the camera; rad. At 0 and no tilt
   * +X of the board points right in the picture and +Y up.
   */
  readonly rollRad: number;
}

/**
 * Brown-Conrady, with the meaning OpenCV gives the coefficients (x right, y down, lengths in units of
 * the principal distance), about a centre of its own: the pinhole picture comes first, then each
 * point is moved as its place relative to `distortionCentrePx` says.
 */
export interface Lens {
  readonly focalPx: number;
  readonly principalPx: readonly [number, number];
  readonly k1: number;
  readonly k2: number;
  readonly k3: number;
  readonly p1: number;
  readonly p2: number;
  readonly distortionCentrePx: readonly [number, number];
  /**
   * What the finished picture suffers about its principal point: columns wider than rows are high, and
   * rows displaced along themselves in proportion to their number, as by a hand that moves while the
   * rows are read one after the other; 0 where absent.
   */
  readonly pixelAspect?: number;
  readonly pixelSkew?: number;
  /** A lens that is not quite round: the same two before the distortion; 0 where absent. */
  readonly lensAspect?: number;
  readonly lensSkew?: number;
}

/** Height of the board above its plane: quadratic, zero for a flat board. */
export interface BoardShape {
  readonly centreMm: readonly [number, number];
  readonly halfSizeMm: readonly [number, number];
  /** Height at the ends of the X half size, of the Y half size, and at the +X +Y corner (twist); mm. */
  readonly bowXMm: number;
  readonly bowYMm: number;
  readonly twistMm: number;
}

/** A camera stand worked out: centre of projection and the directions of the sensor's axes. */
export interface CameraFrame {
  readonly positionMm: Vector;
  readonly right: Vector;
  readonly down: Vector;
  readonly forward: Vector;
}

/** Rays are traced until the place moves by less than this; far below a thousandth of a pixel. */
const UNDISTORT_TOLERANCE = 1e-11;
const MAX_ITERATIONS = 100;

export function cameraFrame(stand: CameraStand): CameraFrame {
  const sinTilt = Math.sin(stand.tiltRad);
  const cosTilt = Math.cos(stand.tiltRad);
  const cosSide = Math.cos(stand.azimuthRad);
  const sinSide = Math.sin(stand.azimuthRad);
  const up: Vector = [sinTilt * cosSide, sinTilt * sinSide, cosTilt];
  // Tilting turns about the horizontal axis across the azimuth and leaves that axis alone.
  const tilted = (x: number, y: number): Vector => {
    const toward = x * cosSide + y * sinSide;
    const across = -x * sinSide + y * cosSide;
    return [
      toward * cosTilt * cosSide - across * sinSide,
      toward * cosTilt * sinSide + across * cosSide,
      -toward * sinTilt,
    ];
  };
  const right0 = tilted(1, 0);
  const down0 = tilted(0, -1);
  const cosRoll = Math.cos(stand.rollRad);
  const sinRoll = Math.sin(stand.rollRad);
  return {
    positionMm: [
      stand.aimMm[0] + stand.distanceMm * up[0],
      stand.aimMm[1] + stand.distanceMm * up[1],
      stand.distanceMm * up[2],
    ],
    right: combine(right0, cosRoll, down0, sinRoll),
    down: combine(down0, cosRoll, right0, -sinRoll),
    forward: [-up[0], -up[1], -up[2]],
  };
}

/** Height of the board at a place; mm. */
export function boardHeight(shape: BoardShape | undefined, xMm: number, yMm: number): number {
  if (!shape) return 0;
  const x = (xMm - shape.centreMm[0]) / shape.halfSizeMm[0];
  const y = (yMm - shape.centreMm[1]) / shape.halfSizeMm[1];
  return shape.bowXMm * x * x + shape.bowYMm * y * y + shape.twistMm * x * y;
}

/**
 * The sensor pixel in which a point of the board appears.
 *
 * @returns [u, v]; px, or undefined for a point behind the camera.
 */
export function pixelFromBoard(
  lens: Lens,
  frame: CameraFrame,
  xMm: number,
  yMm: number,
  zMm: number,
): [number, number] | undefined {
  const x = xMm - frame.positionMm[0];
  const y = yMm - frame.positionMm[1];
  const z = zMm - frame.positionMm[2];
  const depth = x * frame.forward[0] + y * frame.forward[1] + z * frame.forward[2];
  if (depth <= 0) return undefined;
  const roundRight = (x * frame.right[0] + y * frame.right[1] + z * frame.right[2]) / depth;
  const toDown = (x * frame.down[0] + y * frame.down[1] + z * frame.down[2]) / depth;
  const toRight = roundRight * (1 + (lens.lensAspect ?? 0)) + (lens.lensSkew ?? 0) * toDown;
  const [centreU, centreV] = lens.distortionCentrePx;
  const bent = distort(
    lens,
    toRight + (lens.principalPx[0] - centreU) / lens.focalPx,
    toDown + (lens.principalPx[1] - centreV) / lens.focalPx,
  );
  const v = centreV + lens.focalPx * bent[1];
  const square = centreU + lens.focalPx * bent[0] - lens.principalPx[0];
  const shift = (lens.pixelSkew ?? 0) * (v - lens.principalPx[1]);
  return [lens.principalPx[0] + square * (1 + (lens.pixelAspect ?? 0)) + shift, v];
}

/**
 * The board point that a pixel sees: the ray through the pixel, followed to the board.
 *
 * @returns [X, Y]; mm, or undefined where the ray does not come down to the board.
 */
export function boardFromPixel(
  lens: Lens,
  frame: CameraFrame,
  shape: BoardShape | undefined,
  u: number,
  v: number,
): [number, number] | undefined {
  const [centreU, centreV] = lens.distortionCentrePx;
  const [middleU, middleV] = lens.principalPx;
  const unsheared = u - middleU - (lens.pixelSkew ?? 0) * (v - middleV);
  const squareU = middleU + unsheared / (1 + (lens.pixelAspect ?? 0));
  const straight = undistort(
    lens,
    (squareU - centreU) / lens.focalPx,
    (v - centreV) / lens.focalPx,
  );
  const toDown = straight[1] + (centreV - lens.principalPx[1]) / lens.focalPx;
  const bentRight = straight[0] + (centreU - lens.principalPx[0]) / lens.focalPx;
  const toRight = (bentRight - (lens.lensSkew ?? 0) * toDown) / (1 + (lens.lensAspect ?? 0));
  const { right, down, forward, positionMm } = frame;
  const ray: Vector = [
    toRight * right[0] + toDown * down[0] + forward[0],
    toRight * right[1] + toDown * down[1] + forward[1],
    toRight * right[2] + toDown * down[2] + forward[2],
  ];
  if (ray[2] >= 0) return undefined;
  let x = 0;
  let y = 0;
  let height = 0;
  // A bowed board: meet the plane at the height found so far; each turn gains the bow's slope.
  for (let turn = 0; turn < MAX_ITERATIONS; turn++) {
    const reach = (height - positionMm[2]) / ray[2];
    x = positionMm[0] + reach * ray[0];
    y = positionMm[1] + reach * ray[1];
    if (!shape) break;
    const found = boardHeight(shape, x, y);
    if (Math.abs(found - height) < 1e-9) break;
    height = found;
  }
  return [x, y];
}

function distort(lens: Lens, x: number, y: number): [number, number] {
  const square = x * x + y * y;
  const radial = 1 + square * (lens.k1 + square * (lens.k2 + square * lens.k3));
  return [
    x * radial + 2 * lens.p1 * x * y + lens.p2 * (square + 2 * x * x),
    y * radial + lens.p1 * (square + 2 * y * y) + 2 * lens.p2 * x * y,
  ];
}

/** The place that distortion moves to (x, y): taken back by what it does, until it fits. */
function undistort(lens: Lens, x: number, y: number): [number, number] {
  let nearX = x;
  let nearY = y;
  for (let turn = 0; turn < MAX_ITERATIONS; turn++) {
    const [farX, farY] = distort(lens, nearX, nearY);
    const stepX = x - farX;
    const stepY = y - farY;
    nearX += stepX;
    nearY += stepY;
    if (Math.abs(stepX) + Math.abs(stepY) < UNDISTORT_TOLERANCE) break;
  }
  return [nearX, nearY];
}

function combine(a: Vector, shareA: number, b: Vector, shareB: number): Vector {
  return [
    shareA * a[0] + shareB * b[0],
    shareA * a[1] + shareB * b[1],
    shareA * a[2] + shareB * b[2],
  ];
}
