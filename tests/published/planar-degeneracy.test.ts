/**
 * What photos of a plane can tell at all. Unknown constant interior orientation of n terms, a plane known up
 * to k terms beside a similarity, m photos: each photo gives two constraints, so max(0, n + k - 2m)
 * combinations of the unknowns stay open. Sources: the constraints, Zhang, A flexible new technique for
 * camera calibration (2000); the counting in the form 2m ≥ n + 4 for any plane, Triggs, Autocalibration from
 * planar scenes (1998), from memory.
 */
import { Matrix, SVD } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { type CameraStand, cameraFrame, type Lens, pixelFromBoard } from '../../samples/index.js';
import { adjust, estimateMachine, type NetworkInput } from '../../src/network/index.js';
import { linearise } from '../../src/network/linearise.js';
import { buildNetwork } from '../../src/network/network.js';
import { unwrap } from '../../src/quantity/index.js';
import { placeImagePoints } from '../../src/survey/place-image-points.js';

type Beliefs = NonNullable<NetworkInput['beliefs']>;

const PLACES_MM = [-300, -150, 0, 150, 300];
const CAMERA = { widthPx: 4000, heightPx: 3000 };
const LENS: Lens = {
  focalPx: 3000,
  principalPx: [1999.5, 1499.5],
  distortionCentrePx: [1999.5, 1499.5],
  k1: 0,
  k2: 0,
  k3: 0,
  p1: 0,
  p2: 0,
};

function photosOf(stands: readonly CameraStand[], beliefs: Beliefs, lens = LENS): NetworkInput {
  const layout = { linesAtX: PLACES_MM, linesAtY: PLACES_MM, gantryAxis: 'none' as const };
  const points = stands.flatMap((stand, i) =>
    PLACES_MM.flatMap((xMm) =>
      PLACES_MM.map((yMm) => {
        const seen = pixelFromBoard(lens, cameraFrame(stand), xMm, yMm, 0);
        if (seen === undefined) throw new Error('behind the camera');
        return {
          sourceLine: 1,
          photo: `${i}`,
          xMm,
          yMm,
          uPx: seen[0],
          vPx: seen[1],
          sigmaPx: 0.01,
          approachX: 0 as const,
          approachY: 0 as const,
        };
      }),
    ),
  );
  const { photoNames: _, ...placed } = unwrap(placeImagePoints(points, layout, CAMERA));
  return {
    layout,
    cameras: [{ ...CAMERA, focalLengthPx: lens.focalPx }],
    placements: [{ rotationRad: 0, shiftMm: [0, 0] }],
    evidence: [],
    ...placed,
    beliefs: { ...beliefs, commonVariance: true },
  };
}

/** Singular values of the scaled equations in the unknowns that are free, by another factorisation. */
function singularValues(input: NetworkInput, held: ReadonlySet<string>): number[] {
  const built = buildNetwork(input);
  if (built === undefined) throw new Error('no start');
  const { network, state } = built;
  const { rows } = linearise(network, state);
  const free = network.table.list.flatMap(({ name, priorSigma }, p) =>
    priorSigma > 1e-6 && !held.has(name) ? [p] : [],
  );
  const column = new Map(free.map((p, k) => [p, k]));
  const dense = Matrix.zeros(rows.count, free.length);
  for (let i = 0; i < rows.count; i++) {
    for (let e = rows.start[i]!; e < rows.start[i + 1]!; e++) {
      const k = column.get(rows.index[e]!);
      if (k !== undefined) dense.set(i, k, dense.get(i, k) + rows.value[e]!);
    }
  }
  for (let k = 0; k < free.length; k++) {
    const length = Math.hypot(...dense.getColumn(k)) || 1;
    for (let i = 0; i < rows.count; i++) dense.set(i, k, dense.get(i, k) / length);
  }
  return new SVD(dense, {
    computeLeftSingularVectors: false,
    computeRightSingularVectors: false,
  }).diagonal;
}

/** Stands without any symmetry. */
const STANDS: readonly CameraStand[] = [
  [14, 20, 8],
  [27, 133, 71],
  [21, 250, 160],
  [33, 310, 221],
  [18, 75, 300],
].map(([tilt, side, roll], i) => ({
  aimMm: [10 * i - 20, 7 * i - 12] as const,
  distanceMm: 1000 + 60 * i,
  tiltRad: (tilt! * Math.PI) / 180,
  azimuthRad: (side! * Math.PI) / 180,
  rollRad: (roll! * Math.PI) / 180,
}));

const INTERIORS: readonly (readonly [string, NonNullable<Beliefs['cameraTerms']>])[] = [
  ['nothing', []],
  ['f', ['f']],
  ['f, centre', ['f', 'cu', 'cv']],
  ['f, centre, aspect', ['f', 'cu', 'cv', 'aspect']],
  ['f, centre, aspect, skew', ['f', 'cu', 'cv', 'aspect', 'skew']],
];
const PLANES: readonly (readonly [number, NonNullable<Beliefs['onlyMachineTerms']>])[] = [
  [0, []],
  [2, ['scaleDifference', 'squareness']],
];

describe('the number of open combinations', () => {
  for (const [unknown, cameraTerms] of INTERIORS) {
    for (const [k, onlyMachineTerms] of PLANES) {
      it(`is n + k - 2m with ${unknown} unknown and k = ${k}`, () => {
        for (let m = 1; m <= 5; m++) {
          const input = photosOf(STANDS.slice(0, m), { cameraTerms, onlyMachineTerms });
          const values = singularValues(input, new Set());
          const expected = Math.max(0, cameraTerms.length + k - 2 * m);
          const open = values.filter((value) => value < 1e-9 * values[0]!).length;
          expect([m, open]).toEqual([m, expected]);
        }
      });
    }
  }

  it('is what the states follow: squareness and ratio are told from the photo on that fixes them', () => {
    for (const [unknown, cameraTerms] of INTERIORS) {
      // k3 and the rest of the lens are held; two more terms of the plane are asked for.
      const needed = Math.ceil((cameraTerms.length + 2) / 2);
      for (let m = 1; m <= 5; m++) {
        const beliefs = { cameraTerms, onlyMachineTerms: PLANES[1]![1] };
        // Noise of a hundredth of a pixel: with none at all there would be no variance to go by.
        const input = photosOf(STANDS.slice(0, m), beliefs);
        const noisy = {
          ...input,
          observations: input.observations.map((o, i) => ({
            ...o,
            uPx: o.uPx + 0.01 * Math.sin(12.9 * i * i + i),
            vPx: o.vPx + 0.01 * Math.cos(7.7 * i * i - i),
          })),
        };
        const { squareness, scale } = estimateMachine(unwrap(adjust(noisy)));
        const told = [squareness, scale.ratio].every(({ state }) => state === 'measured');
        const open = [squareness, scale.ratio].some(({ state }) => state === 'undetermined');
        expect([unknown, m, told, open]).toEqual([unknown, m, m >= needed, m < needed]);
      }
    }
  });
});

/** From so far that the picture is an affine one: a picture pixel is a millimetre of the board. */
const FAR: Lens = { ...LENS, focalPx: 1e7 };

function overhead(rollsDeg: readonly number[]): NetworkInput {
  const stands = rollsDeg.map((roll) => ({
    aimMm: [0, 0] as const,
    distanceMm: FAR.focalPx,
    tiltRad: 0,
    azimuthRad: 0,
    rollRad: (roll * Math.PI) / 180,
  }));
  return photosOf(
    stands,
    { cameraTerms: ['aspect', 'skew'], onlyMachineTerms: ['scaleDifference', 'squareness'] },
    FAR,
  );
}

describe('photos straight from above by a camera of unknown pixel shape', () => {
  // The slope against tilt of an affine picture is nothing: those two unknowns of each photo are no unknowns.
  const still = (rolls: readonly number[]) =>
    new Set(rolls.flatMap((_, i) => ['rotationX', 'rotationY'].map((t) => `photo ${i} ${t}`)));

  for (const rolls of [[0], [0, 0], [0, 180]]) {
    it(`leave two combinations open with rolls ${rolls.join(', ')}`, () => {
      const values = singularValues(overhead(rolls), still(rolls));
      expect(values.filter((value) => value < 1e-6 * values[0]!)).toHaveLength(2);
    });
  }

  for (const rolls of [
    [0, 90],
    [0, 45],
    [0, 10],
    [0, 90, 180, 270],
  ]) {
    it(`leave nothing open with rolls ${rolls.join(', ')}: a quarter turn parts camera and machine`, () => {
      const values = singularValues(overhead(rolls), still(rolls));
      expect(values.filter((value) => value < 1e-6 * values[0]!)).toHaveLength(0);
    });
  }
});
