import { existsSync, readFileSync } from 'node:fs';
import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { evenPositions, signShopSet, simulateObservations } from '../../samples/index.js';
import { FAILURE_CODES, type FailureCode } from '../../shared/failure-codes.js';
import {
  type Estimate,
  type Measurement,
  measurementSchema,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import type { Approach } from '../../shared/stroke.js';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM } from './sample-photos.js';

const ZHANG = fileURLToPath(new URL('../../../shared/data/zhang1998/', import.meta.url));
const MACHINE = join(SAMPLE_FOLDER, 'machine.yaml');
const { program, scene, taped } = signShopSet();
const SIZE = `${scene.camera.widthPx}x${scene.camera.heightPx}`;
const NODES = evenPositions(7, 120).flatMap((xMm) =>
  evenPositions(5, 120).map((yMm) => ({ xMm, yMm })),
);

const NO_CURVE = { fromMm: 0, toMm: 1, legendre: [] };
const NO_DEVIATION = { atMm: [], deviationMm: [] };
const NO_ERRORS = {
  ...{ scaleX: 0, scaleY: 0, squarenessRad: 0 },
  ...{ straightnessX: NO_CURVE, straightnessY: NO_CURVE, yaw: NO_CURVE },
  ...{ positionX: NO_DEVIATION, positionY: NO_DEVIATION },
};

let folder: Awaited<ReturnType<typeof emptyFolder>>;
let runs = 0;

beforeAll(async () => {
  folder = await emptyFolder();
});

afterAll(() => folder.remove());

type Senses = Readonly<Record<'approachX' | 'approachY', Approach>>;

/** The sample's nodes as its own projection shows them, with the noise of a good detector. */
function rowsOf(sensesAt: (xMm: number, yMm: number) => Senses): string[][] {
  const places = NODES.map(({ xMm, yMm }) => ({ xMm, yMm, ...sensesAt(xMm, yMm) }));
  const noise = { sigmaPx: 0.1, sigmaMarkMm: 0.015, seed: 5 };
  return simulateObservations(scene, places, noise).map((seen) => [
    seen.photo,
    String(seen.xMm),
    String(seen.yMm),
    seen.u.toFixed(3),
    seen.v.toFixed(3),
    '0.2',
    String(seen.approachX),
    String(seen.approachY),
  ]);
}

/** Every second node was reached from the other side, X and Y in different order. */
function alternating(xMm: number, yMm: number): Senses {
  const [i, j] = [xMm / 120, yMm / 120];
  return { approachX: (i + j) % 2 === 0 ? 1 : -1, approachY: (i + (j >> 1)) % 2 === 0 ? 1 : -1 };
}

/** As the sample's program marked the lines through a node; 0 where two halves meet. */
function asMarked(xMm: number, yMm: number): Senses {
  const sense = (at: number, along: number, k: 0 | 1) => {
    const through = program.strokes.filter(
      ({ fromMm, toMm }) =>
        fromMm[k] === at &&
        toMm[k] === at &&
        along >= Math.min(fromMm[1 - k]!, toMm[1 - k]!) &&
        along <= Math.max(fromMm[1 - k]!, toMm[1 - k]!),
    );
    const senses = new Set(through.map((one) => (k === 0 ? one.approachX : one.approachY)));
    return senses.size === 1 ? [...senses][0]! : 0;
  };
  return { approachX: sense(xMm, yMm, 0), approachY: sense(yMm, xMm, 1) };
}

async function write(name: string, rows: readonly string[][], separator = ','): Promise<string> {
  const text = [
    ['photo', 'x', 'y', 'u', 'v', 'sigma', 'dx', 'dy'].slice(0, rows[0]!.length),
    ...rows.map((row) =>
      separator === ',' ? row : row.map((cell, i) => (i === 0 ? cell : cell.replace('.', ','))),
    ),
  ];
  await writeFile(
    join(folder.path, name),
    text.map((row) => `${row.join(separator)}\r\n`).join(''),
  );
  return name;
}

async function measure(args: readonly string[]): Promise<Ran> {
  return runGantrue(['measure', ...args, '--out', `out-${runs++}`], folder.path);
}

async function measured(args: readonly string[]): Promise<Measurement> {
  const ran = await measure([...args, '--json']);
  expect(ran.stderr).toMatch(/^wrote 3 files to /);
  expect(ran.code).toBe(0);
  return measurementSchema.parse(JSON.parse(ran.stdout));
}

function told(quantity: Quantity): Estimate {
  if (quantity.state === 'undetermined') throw new Error(quantity.reason);
  return quantity;
}

/** Some hundredths of a millimetre, beside three u of noise, may lie between the sample's truth over all its lines and over these. */
function expectTruth({ squareness, scale, lostMotion }: Measurement): void {
  const close: readonly [Quantity, truth: number, within: number][] = [
    [squareness, 0.85e-3, 8e-5],
    [scale.ratio, 1.9e-3, 1e-4],
    [lostMotion.x, 0.06, 0.01],
    [lostMotion.y, 0.14, 0.01],
  ];
  for (const [quantity, truth, within] of close) {
    const { state, value, U } = told(quantity);
    expect(state).toBe('measured');
    expect(Math.abs(value - truth)).toBeLessThan(Math.max(1.5 * U, within));
    expect(U).toBeLessThan(3.5 * within);
  }
}

describe('gantrue measure --image-points', () => {
  let measurement: Measurement;
  beforeAll(async () => {
    const file = await write('points.csv', rowsOf(alternating), ';');
    const [, diagonal] = taped;
    measurement = await measured([
      ...['--image-points', file, '--image-size', SIZE, '--machine', MACHINE],
      ...['--known', `0,0 720,480 ${diagonal!.lengthMm} ${diagonal!.uMm}`],
    ]);
  });

  it('measures the machine by points on their own grid', () => {
    expectTruth(measurement);
    expect(Math.abs(told(measurement.scale.x).value - 1.3e-3)).toBeLessThan(
      told(measurement.scale.x).U,
    );
    expect(measurement.placements).toMatchObject([
      { program: 'points.csv', linesAtX: evenPositions(7, 120), linesAtY: evenPositions(5, 120) },
    ]);
    expect(measurement.verdicts.length).toBeGreaterThan(0);
    expect(measurement.imagePoints).toMatchObject({ file: 'points.csv' });
    // One false alarm in 15 000 of 560 coordinates.
    expect(measurement.imagePoints!.outliers).toBeLessThan(3);
  });

  it('records every photo by its name in the file, as it was taken', () => {
    const names = scene.photos.map(({ name }) => name);
    expect(measurement.photos.map(({ file }) => file)).toEqual(names);
    const [{ widthPx, heightPx }] = [scene.camera];
    for (const photo of measurement.photos) {
      expect(photo).toMatchObject({ used: true, camera: 0, widthPx, heightPx });
      // Noise of 0.1 px and marks that stray by 0.015 mm, which the marks take up.
      expect(photo.reprojectionRmsPx).toBeGreaterThan(0.07);
      expect(photo.reprojectionRmsPx).toBeLessThan(0.13);
      expect(photo.corners).toHaveLength(4);
      expect(photo.overlay).toBeUndefined();
    }
  });

  it('writes report and table but no pictures', async () => {
    const names = await readdir(join(folder.path, `out-${runs - 1}`));
    expect(names.sort()).toEqual(['deviations.csv', 'measurement.json', 'report.html']);
    const html = await readFile(join(folder.path, `out-${runs - 1}`, 'report.html'), 'utf8');
    expect(html).toContain('points found in photos by other software (points.csv)');
  });

  it('knows from the program how the nodes were approached', async () => {
    const bare = rowsOf(asMarked).map((row) => row.slice(0, 6));
    const file = await write('bare.csv', bare);
    const call = ['--image-points', file, '--image-size', SIZE, '--machine', MACHINE];
    const known = await measured([...call, '--program', SAMPLE_PROGRAM]);
    expectTruth(known);
    expect(known.placements[0]!.program).toBe('bed-grid.ngc');
    const unknown = await measured(call);
    expect(unknown.squareness.state).toBe('weak');
    expect(unknown.lostMotion.x).toMatchObject({
      state: 'undetermined',
      add: [expect.stringContaining('dx and dy')],
    });
    expect(unknown.proposals.every(({ leaveAlone }) => leaveAlone)).toBe(true);
  });

  it('leaves out a point that is another mark, and names its line', async () => {
    const rows = rowsOf(alternating);
    const at = 100;
    rows[at] = rows[at]!.map((cell, k) => (k === 3 ? String(Number(cell) + 6) : cell));
    const file = await write('slip.csv', rows);
    const { findings, imagePoints } = await measured([
      ...['--image-points', file, '--image-size', SIZE, '--machine', MACHINE],
    ]);
    const finding = findings.find(({ code }) => code === 'IMAGE_POINTS_DISAGREE');
    // The header is line 1.
    expect(finding?.message).toContain(`line ${at + 2} by `);
    expect(imagePoints!.outliers).toBeLessThan(4);
  });

  it('tells the camera and its lens where the grid is taken for true', async () => {
    const { principalPx, ...round } = scene.photos[0]!.lens;
    const lens = { ...round, principalPx, distortionCentrePx: principalPx, pixelAspect: 3e-4 };
    const tilted = {
      ...scene,
      machine: { ...scene.machine, ...NO_ERRORS },
      photos: scene.photos.map((photo, i) => ({
        ...photo,
        lens,
        stand: {
          aimMm: [360, 240] as const,
          distanceMm: 1000,
          tiltRad: 0.4,
          azimuthRad: (i * Math.PI) / 4,
          rollRad: ((i % 4) * Math.PI) / 2,
        },
      })),
    };
    const places = NODES.map((node) => ({ ...node, approachX: 0, approachY: 0 }) as const);
    const rows = simulateObservations(tilted, places, { sigmaPx: 0.1, seed: 8 }).map(
      ({ photo, xMm, yMm, u, v }) => [
        ...[photo, String(xMm), String(yMm), u.toFixed(3), v.toFixed(3), '1'],
      ],
    );
    const ran = await measure([
      ...['--image-points', await write('true.csv', rows), '--image-size', SIZE, '--known-grid'],
      ...['--camera-terms', 'f,cu,cv,k1,k2,p1,p2,aspect'],
    ]);
    expect(ran.code).toBe(0);
    expect(ran.stdout).toMatch(/^camera: measured by a grid that was taken for true/);
    expect(ran.stdout).toMatch(/principal distance f {2}313\d\.\d+ ± 0\.\d+ px/);
    expect(ran.stdout).toMatch(/\nk3 +held at 0\n/);
    expect(ran.stdout).not.toContain('squareness');
    const saved = await readFile(join(folder.path, `out-${runs - 1}`, 'measurement.json'), 'utf8');
    const { squareness, verdicts, proposals, camera } = measurementSchema.parse(JSON.parse(saved));
    const truth = {
      f: lens.focalPx,
      cx: principalPx[0],
      cy: principalPx[1],
      ...{ k1: lens.k1, k2: lens.k2, p1: lens.p1, p2: lens.p2, aspect: lens.pixelAspect },
    };
    for (const [term, value] of Object.entries(truth) as [keyof typeof truth, number][]) {
      const found = camera[0]![term];
      // Of eight terms one in three lies beyond 2 u by chance, one in fifty beyond 3 u.
      expect(Math.abs(found.value - value), term).toBeLessThan(3 * found.u);
    }
    expect(camera[0]!.f.u).toBeLessThan(0.6);
    expect(camera[0]!.aspect.u).toBeLessThan(5e-5);
    expect(squareness).toMatchObject({
      state: 'undetermined',
      reason: expect.stringContaining('--known-grid'),
    });
    expect([...verdicts, ...proposals]).toEqual([]);
  });
});

describe('gantrue measure --camera-terms', () => {
  it('says which of them one photo square from above does not fix', async () => {
    const rows = [0, 1, 2, 3].flatMap((i) =>
      [0, 1, 2].map((j) => {
        // Some tenths of a pixel, as noise.
        const [u, v] = [(7 * i + 5 * j) % 4, (3 * i + 2 * j) % 5].map((k) => 0.1 * (k - 2));
        return [
          ...['p', `${100 * i}`, `${100 * j}`],
          ...[`${50 + 90 * i + u!}`, `${300 - 90 * j + v!}`, '0.2'],
        ];
      }),
    );
    const call = ['--image-points', await write('square-on.csv', rows), '--image-size', '640x480'];
    const open = await measured([...call, '--known-grid', '--camera-terms', 'f,cu,cv,k1']);
    const finding = open.findings.find(({ code }) => code === 'CAMERA_TERMS_OPEN');
    // Square-on, a longer focal length looks like a smaller distance.
    expect(finding?.message).toMatch(/^the points do not fix f/);
  });
});

describe.skipIf(!existsSync(ZHANG))('Zhang’s five photos of a plane', () => {
  // Zhang, A flexible new technique for camera calibration (2000): data and result as distributed with it.
  const MM_PER_INCH = 25.4;

  it('give the published camera from the command line', async () => {
    const numbers = (name: string) =>
      readFileSync(`${ZHANG}${name}.txt`, 'utf8').split(/\s+/).filter(Boolean).map(Number);
    const model = numbers('Model');
    const rows = [1, 2, 3, 4, 5].flatMap((image) => {
      const seen = numbers(`data${image}`);
      return Array.from({ length: model.length / 2 }, (_, i) => [
        `image${image}`,
        String(model[2 * i]! * MM_PER_INCH),
        // Its Y runs down the picture: seen from above, Y is counted upward.
        String(-model[2 * i + 1]! * MM_PER_INCH),
        String(seen[2 * i]!),
        String(seen[2 * i + 1]!),
        '1',
      ]);
    });
    const file = await write('zhang.csv', rows);
    const { camera, photos, adjustment, findings } = await measured([
      ...['--image-points', file, '--image-size', '640x480', '--known-grid'],
      ...['--camera-terms', 'f,cu,cv,k1,k2,aspect,skew'],
    ]);
    const [{ f, cx, cy, k1, k2, k3, aspect, skew, distortionCentreX }] = camera as [
      Measurement['camera'][number],
    ];
    expect(f.value).toBeCloseTo(832.53, 2);
    expect(cx.value).toBeCloseTo(303.959, 2);
    expect(cy.value).toBeCloseTo(206.585, 2);
    expect(k1.value).toBeCloseTo(-0.228601, 5);
    expect(k2.value).toBeCloseTo(0.190353, 4);
    // Table in the paper: 1.38, 0.71, 0.66; the skew 0.204494 px with 0.078.
    expect(Math.abs(f.u - 1.38)).toBeLessThan(0.01);
    expect(cx.u).toBeCloseTo(0.71, 2);
    expect(cy.u).toBeCloseTo(0.66, 2);
    expect(f.value * skew.value).toBeCloseTo(0.204494, 4);
    expect(f.value * skew.u).toBeCloseTo(0.078, 3);
    // Scale along u 832.5: aspect is its ratio to that along v, less one.
    expect(f.value * (1 + aspect.value)).toBeCloseTo(832.5, 2);
    expect(aspect.u).toBeLessThan(2e-4);
    expect(k3).toEqual({ value: 0, u: 0 });
    expect(distortionCentreX).toEqual(cx);
    expect(photos).toHaveLength(5);
    expect(adjustment).toMatchObject({ knownGrid: true, sigmaMark: 0 });
    expect(findings).toEqual([]);
  });
});

if (!existsSync(ZHANG)) console.log(`skipped: no outside data beside the checkout (${ZHANG})`);

describe('gantrue measure refuses', () => {
  const SIX = [0, 1, 2].flatMap((i) =>
    [0, 1].map((j) => ['p', `${100 * i}`, `${100 * j}`, `${50 + 90 * i}`, `${300 - 80 * j}`, '1']),
  );
  function expectFailure(ran: Ran, code: FailureCode, words: string): void {
    expect(ran.stderr).toContain(`[${code}]`);
    expect(ran.stderr).toContain(words);
    expect(ran.stderr).toMatch(/hint: \S/);
    expect(ran.stdout).toBe('');
    expect(ran.code).toBe(FAILURE_CODES[code].exit);
  }

  it('image points with the line and column of what is wrong', async () => {
    const rows = SIX.map((row, i) => (i === 1 ? row.with(3, 'left') : row));
    const ran = await measure([
      ...['--image-points', await write('bad.csv', rows), '--image-size', '640x480'],
    ]);
    expectFailure(ran, 'IMAGE_POINTS_INVALID', 'line 3, column u: expected a number in px');
    const lost = await measure(['--image-points', 'absent.csv', '--image-size', '640x480']);
    expectFailure(lost, 'FILE_MISSING', 'absent.csv');
  });

  it('pixels beside the picture', async () => {
    const file = await write('six.csv', SIX);
    const ran = await measure(['--image-points', file, '--image-size', '200x480']);
    expectFailure(ran, 'IMAGE_POINTS_INVALID', 'lies outside a picture of 200 × 480 pixels');
  });

  it('points outside the grid of the program', async () => {
    const file = await write('far.csv', [...SIX, ['p', '2000', '0', '300', '300', '1']]);
    const ran = await measure([
      ...['--image-points', file, '--image-size', '640x480', '--program', SAMPLE_PROGRAM],
    ]);
    expectFailure(ran, 'IMAGE_POINTS_INVALID', '(2000, 0) lies outside the grid');
  });

  it('a rule where there is no picture', async () => {
    const file = await write('six.csv', SIX);
    await writeFile(
      join(folder.path, 'rule.yaml'),
      'rules:\n  - { photo: p, from: [1, 1], to: [100, 1], length: 300 }\n',
    );
    const ran = await measure([
      ...['--image-points', file, '--image-size', '640x480', '--evidence', 'rule.yaml'],
    ]);
    expectFailure(ran, 'EVIDENCE_INVALID', 'a rule');
  });

  it('calls that contradict themselves', async () => {
    const ran = await measure(['photo.jpg', '--image-points', 'p.csv', '--image-size', '640x480']);
    expectFailure(ran, 'WRONG_CALL', 'photos and --image-points');
    expectFailure(
      await measure(['--image-points', 'p.csv']),
      'WRONG_CALL',
      '--image-size is missing',
    );
  });
});
