import { beforeAll, describe, expect, it } from 'vitest';
import { createRandomSource } from '../../samples/random-source.js';
import {
  CAMERA_TERMS,
  makeProjection,
  type Pose,
  project,
  WANDER_SIZE,
} from '../../src/network/camera-model.js';
import { adjust, listCameras } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { placeImagePoints } from '../../src/survey/place-image-points.js';
import { type Cv, type CvMat, loadOpenCv } from './load-opencv.js';

const WIDTH_PX = 4000;
const HEIGHT_PX = 3000;
/** A phone's main lens with distortion of its raw picture; the distortion centre at the principal point. */
const LENS = {
  f: 3050,
  cu: 2012,
  cv: 1491,
  k1: 0.08,
  k2: -0.15,
  k3: 0.05,
  p1: 6e-4,
  p2: -4e-4,
  centreU: 2012,
  centreV: 1491,
} as const;

/** Rotations about X, Y, Z in degrees; a, b px; distance from the board in mm. */
const STANDS = [
  [178, 1, 3, 10, -20, 1500],
  [200, 4, 92, -60, 30, 1600],
  [172, -18, 181, 0, 0, 1450],
  [165, 15, -88, 40, 70, 1550],
  [193, -22, 44, -30, -50, 1650],
  [181, 20, 135, 90, 10, 1500],
] as const;

const BOARD_MM: readonly (readonly [number, number])[] = Array.from({ length: 13 * 9 }, (_, i) => [
  ((i % 13) - 6) * 100,
  (Math.floor(i / 13) - 4) * 100,
]);

let cv: Cv;
beforeAll(() => {
  cv = loadOpenCv();
});

describe('the camera model', () => {
  it('without distortion is the homography that OpenCV fits to its points', () => {
    const lens = camera({
      f: LENS.f,
      cu: LENS.cu,
      cv: LENS.cv,
      centreU: LENS.cu,
      centreV: LENS.cv,
    });
    for (const stand of STANDS) {
      const pose = poseOf(stand);
      const seen = view(lens, pose);
      const from = cv.matFromArray(BOARD_MM.length, 1, cv.CV_64FC2, BOARD_MM.flat());
      const to = cv.matFromArray(BOARD_MM.length, 1, cv.CV_64FC2, seen.flat());
      const fitted = cv.findHomography(from, to);
      const h = Float64Array.from(fitted.data64F);
      for (const mat of [from, to, fitted]) mat.delete();
      for (const [i, [x, y]] of BOARD_MM.entries()) {
        const w = h[6]! * x + h[7]! * y + h[8]!;
        expect((h[0]! * x + h[1]! * y + h[2]!) / w).toBeCloseTo(seen[i]![0], 3);
        expect((h[3]! * x + h[4]! * y + h[5]!) / w).toBeCloseTo(seen[i]![1], 3);
      }
    }
  });

  it('is the one that OpenCV calibrates: the same lens comes back from projected points', () => {
    const lens = camera(LENS);
    const found = calibrate(STANDS.map((stand) => view(lens, poseOf(stand))));
    // Points are handed over in single precision, about 1e-4 px at 4000 px.
    expect(found.rmsPx).toBeLessThan(1e-3);
    expect(found.fu).toBeCloseTo(LENS.f, 1);
    expect(found.fv).toBeCloseTo(LENS.f, 1);
    expect(found.cu).toBeCloseTo(LENS.cu, 1);
    expect(found.cv).toBeCloseTo(LENS.cv, 1);
    const [k1, k2, p1, p2, k3] = found.distortion;
    expect(k1).toBeCloseTo(LENS.k1, 3);
    expect(k2).toBeCloseTo(LENS.k2, 2);
    expect(k3).toBeCloseTo(LENS.k3, 1);
    expect(p1).toBeCloseTo(LENS.p1, 5);
    expect(p2).toBeCloseTo(LENS.p2, 5);
  });

  it('has pixels whose aspect OpenCV sees as a ratio of its focal lengths', () => {
    const found = calibrate(
      STANDS.map((stand) => view(camera({ ...LENS, aspect: 2e-3 }), poseOf(stand))),
    );
    expect(found.fu / found.fv).toBeCloseTo(1.002, 5);
  });
});

describe('the adjustment of a known plane', () => {
  /** Stands with the board seen from above in the tool's convention; noise like that of found corners. */
  const NOISE_PX = 0.2;
  /** So far that every point lies in the picture. */
  const FARTHER = 1.3;

  it('gives the interior orientation and standard deviations that OpenCV gives for the same points', () => {
    const random = createRandomSource(11);
    const views = STANDS.map(([ax, ay, az, a, b, distance]) =>
      view(camera({ ...LENS, aspect: 5e-4 }), poseOf([ax, ay, az, a, b, FARTHER * distance])).map(
        ([u, v]): [number, number] => [
          // Single precision, as the other library takes them.
          Math.fround(u + NOISE_PX * random.normal()),
          Math.fround(v + NOISE_PX * random.normal()),
        ],
      ),
    );
    const theirs = calibrate(views);
    const lines = (k: 0 | 1) => [...new Set(BOARD_MM.map((p) => p[k]))].sort((a, b) => a - b);
    const layout = { linesAtX: lines(0), linesAtY: lines(1), gantryAxis: 'none' as const };
    const points = views.flatMap((seen, photo) =>
      seen.map(([uPx, vPx], i) => ({
        sourceLine: i + 1,
        photo: `${photo}`,
        xMm: BOARD_MM[i]![0],
        yMm: BOARD_MM[i]![1],
        uPx,
        vPx,
        sigmaPx: 1,
        approachX: 0 as const,
        approachY: 0 as const,
      })),
    );
    const size = { widthPx: WIDTH_PX, heightPx: HEIGHT_PX };
    const placed = unwrap(placeImagePoints(points, layout, size));
    const adjustment = unwrap(
      adjust({
        layout,
        cameras: [size],
        photos: placed.photos,
        placements: [{ rotationRad: 0, shiftMm: [0, 0] }],
        segments: placed.segments,
        observations: placed.observations,
        evidence: [],
        beliefs: {
          cameraTerms: ['f', 'cu', 'cv', 'k1', 'k2', 'k3', 'p1', 'p2', 'aspect'],
          onlyMachineTerms: [],
          commonVariance: true,
        },
      }),
    );
    const ours = listCameras(adjustment)[0]!;
    const [, sdFv, sdCu, sdCv, sdK1, sdK2, sdP1, sdP2, sdK3] = theirs.standardDeviations;
    const [k1, k2, p1, p2, k3] = theirs.distortion;
    const compared = [
      [ours.f, theirs.fv, sdFv],
      [ours.cx, theirs.cu, sdCu],
      [ours.cy, theirs.cv, sdCv],
      [ours.k1, k1, sdK1],
      [ours.k2, k2, sdK2],
      [ours.k3, k3, sdK3],
      [ours.p1, p1, sdP1],
      [ours.p2, p2, sdP2],
    ] as const;
    // The other library divides by the number of points less that of unknowns, not by that of coordinates.
    const [count, unknowns] = [views.length * BOARD_MM.length, 9 + 6 * views.length];
    const theirCount = Math.sqrt((2 * count - unknowns) / (count - unknowns));
    for (const [term, value, sd] of compared) {
      // A thousandth of the standard deviation: both stop when nothing moves any more.
      expect(Math.abs(term.value - value!)).toBeLessThan(1e-3 * sd!);
      expect(Math.abs((term.u * theirCount) / sd! - 1)).toBeLessThan(1e-3);
    }
    expect(ours.f.value * (1 + ours.aspect.value)).toBeCloseTo(theirs.fu, 2);
    const squares = adjustment.residualPx.reduce((sum, v) => sum + v * v, 0);
    expect(Math.sqrt(squares / (views.length * BOARD_MM.length))).toBeCloseTo(theirs.rmsPx, 6);
  });
});

function camera(terms: Partial<Record<(typeof CAMERA_TERMS)[number], number>>): Float64Array {
  return Float64Array.from(CAMERA_TERMS, (term) => terms[term] ?? 0);
}

function poseOf([ax, ay, az, a, b, distanceMm]: readonly number[]): Pose {
  const rotation = times(times(turn(2, az!), turn(1, ay!)), turn(0, ax!));
  return { rotation: Float64Array.from(rotation), a: a!, b: b!, rho: distanceMm! / LENS.f };
}

/** 3×3 row-major rotation about one axis. */
function turn(axis: 0 | 1 | 2, degrees: number): number[] {
  const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  const [i, j] = [(axis + 1) % 3, (axis + 2) % 3];
  const matrix = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  matrix[axis * 4] = 1;
  matrix[i * 4] = c;
  matrix[j * 4] = c;
  matrix[i * 3 + j] = -s;
  matrix[j * 3 + i] = s;
  return matrix;
}

function times(p: readonly number[], q: readonly number[]): number[] {
  return p.map((_, n) => {
    const [row, column] = [Math.floor(n / 3), n % 3];
    return [0, 1, 2].reduce((sum, k) => sum + p[row * 3 + k]! * q[k * 3 + column]!, 0);
  });
}

function view(lens: Float64Array, pose: Pose): [number, number][] {
  const into = makeProjection();
  const wander = new Float64Array(WANDER_SIZE);
  return BOARD_MM.map(([x, y]) => {
    project(lens, wander, pose, x, y, into);
    return [into.u, into.v];
  });
}

function calibrate(views: readonly (readonly [number, number])[][]) {
  const objects = new cv.MatVector();
  const images = new cv.MatVector();
  const [matrix, distortion, u1, u2, errors] = Array.from({ length: 5 }, () => new cv.Mat()) as [
    CvMat,
    CvMat,
    CvMat,
    CvMat,
    CvMat,
  ];
  const [rotations, translations] = [new cv.MatVector(), new cv.MatVector()];
  for (const seen of views) {
    const board = BOARD_MM.flatMap(([x, y]) => [x, y, 0]);
    objects.push_back(cv.matFromArray(BOARD_MM.length, 1, cv.CV_32FC3, board));
    images.push_back(cv.matFromArray(BOARD_MM.length, 1, cv.CV_32FC2, seen.flat()));
  }
  const rmsPx = cv.calibrateCameraExtended(
    objects,
    images,
    new cv.Size(WIDTH_PX, HEIGHT_PX),
    matrix,
    distortion,
    rotations,
    translations,
    u1,
    u2,
    errors,
    0,
    // Count and epsilon: until nothing moves in double precision.
    new cv.TermCriteria(3, 300, 1e-14),
  );
  const m = matrix.data64F;
  const found = {
    rmsPx,
    fu: m[0]!,
    fv: m[4]!,
    cu: m[2]!,
    cv: m[5]!,
    distortion: Array.from(distortion.data64F),
    /** fu, fv, cu, cv, k1, k2, p1, p2, k3. */
    standardDeviations: Array.from(u1.data64F.slice(0, 9)),
  };
  for (const thing of [
    matrix,
    distortion,
    u1,
    u2,
    errors,
    objects,
    images,
    rotations,
    translations,
  ]) {
    thing.delete();
  }
  return found;
}
