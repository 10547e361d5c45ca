import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  evenPositions,
  measureNodes,
  type Scene,
  seeRule,
  signShopSet,
} from '../../samples/index.js';
import { FAILURE_CODES } from '../../shared/failure-codes.js';
import {
  type Estimate,
  type Measurement,
  measurementSchema,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM, writeSmallPhoto } from './sample-photos.js';

const MACHINE = join(SAMPLE_FOLDER, 'machine.yaml');
const { scene } = signShopSet();
let folder: Awaited<ReturnType<typeof emptyFolder>>;
let runs = 0;

beforeAll(async () => {
  folder = await emptyFolder();
  await writeFile(join(folder.path, 'nodes.csv'), probedNodes(scene));
});

afterAll(() => folder.remove());

/** As a probe would find the sample's nodes, each approached in X and Y toward +. */
function probedNodes(sample: Scene): string {
  const nodes = evenPositions(7, 120).flatMap((xMm) =>
    evenPositions(5, 120).map((yMm) => ({ xMm, yMm, approachX: 1, approachY: 1 }) as const),
  );
  const measured = measureNodes(sample, nodes, {
    sigmaMm: 0.01,
    sigmaMarkMm: 0.015,
    rotationRad: -1.2,
    shiftMm: [300, 200],
    scale: 1,
    seed: 3,
  });
  const rows = nodes.map(({ xMm, yMm }, i) => {
    const [X, Y] = measured[i]!;
    return `${xMm};${yMm};${X.toFixed(4)};${Y.toFixed(4)};0,01;1;1`.replaceAll('.', ',');
  });
  return ['x;y;X;Y;u;dx;dy', ...rows, ''].join('\r\n');
}

async function measure(args: readonly string[]): Promise<Ran> {
  return runGantrue(['measure', ...args, '--out', `out-${runs++}`], folder.path);
}

function told(quantity: Quantity): Estimate {
  if (quantity.state === 'undetermined') throw new Error(quantity.reason);
  return quantity;
}

describe('gantrue measure of nodes alone', () => {
  let ran: Ran;
  let measurement: Measurement;
  beforeAll(async () => {
    ran = await measure(['--points', 'nodes.csv', '--machine', MACHINE, '--json']);
    measurement = measurementSchema.parse(JSON.parse(ran.stdout));
  });

  it('gives the same keys as photos do', () => {
    expect(ran.code).toBe(0);
    const { squareness, scale, straightness } = measurement;
    // As chosen for the sample, over its grid; some hundredths lie between that and fewer rows.
    expect(Math.abs(told(squareness).value - 0.85e-3)).toBeLessThan(8e-5);
    expect(Math.abs(told(scale.x).value - 1.3e-3)).toBeLessThan(1e-4);
    expect(Math.abs(told(scale.y).value + 0.6e-3)).toBeLessThan(1e-4);
    expect(told(straightness.x).value).toBeGreaterThan(0.03);
    expect(measurement.points).toMatchObject([{ file: 'nodes.csv', points: 35, outliers: 0 }]);
    expect(measurement.photos).toEqual([]);
    expect(measurement.adjustment?.sigmaPixel).toBeUndefined();
  });

  it('does not tell lost motion of nodes that were all approached from one side', () => {
    expect(measurement.lostMotion.x.state).toBe('undetermined');
    expect(measurement.lostMotion.y.state).toBe('undetermined');
  });

  it('writes report and table, and the report can be written again', async () => {
    const html = await readFile(join(folder.path, `out-${runs - 1}`, 'report.html'), 'utf8');
    expect(html).toContain('35 nodes measured on the board (nodes.csv)');
    const saved = join(`out-${runs - 1}`, 'measurement.json');
    const again = await runGantrue(['report', saved, '--out', 'again'], folder.path);
    expect(again.code).toBe(0);
  });

  it('proposes nothing where it does not know how they were approached', async () => {
    const rows = (await readFile(join(folder.path, 'nodes.csv'), 'utf8'))
      .split('\r\n')
      .map((row) => row.split(';').slice(0, 5).join(';'));
    await writeFile(join(folder.path, 'bare.csv'), rows.join('\n'));
    const bare = await measure(['--points', 'bare.csv', '--json']);
    const { squareness, proposals } = JSON.parse(bare.stdout);
    expect(squareness.state).toBe('weak');
    expect(squareness.add.join()).toContain('--program');
    expect(proposals.every((one: { leaveAlone: boolean }) => one.leaveAlone)).toBe(true);
    // The sample's program marks each line in two halves; it is not how these nodes were made, but it says so.
    const known = await measure(['--points', 'bare.csv', '--program', SAMPLE_PROGRAM, '--json']);
    expect(JSON.parse(known.stdout).squareness.state).toBe('measured');
  });
});

describe('gantrue measure refuses', () => {
  it('a points file with the line and column of what is wrong', async () => {
    await writeFile(join(folder.path, 'bad.csv'), 'x,y,X,Y,u\n0,0,zero,0,0.1\n');
    const ran = await measure(['--points', 'bad.csv']);
    expect(ran.stderr).toContain('bad.csv: the points file cannot be used [POINTS_INVALID]');
    expect(ran.stderr).toContain('line 2, column X: expected a number in mm, found "zero"');
    expect(ran.code).toBe(FAILURE_CODES.POINTS_INVALID.exit);
    expect((await measure(['--points', 'absent.csv'])).stderr).toContain('[FILE_MISSING]');
  });

  it('a call with neither photos nor points', async () => {
    const ran = await measure([]);
    expect(ran.stderr).toContain('photos are missing');
    expect(ran.code).toBe(FAILURE_CODES.WRONG_CALL.exit);
  });

  it('a rule in a photo that is not given, before anything is read', async () => {
    const rule = '{ photo: p9.jpg, from: [1, 1], to: [100, 1], length: 300 }';
    await writeFile(join(folder.path, 'rule.yaml'), `rules:\n  - ${rule}\n`);
    const photo = await writeSmallPhoto(1, join(folder.path, 'one.jpg'));
    const ran = await measure([photo, '--program', SAMPLE_PROGRAM, '--evidence', 'rule.yaml']);
    expect(ran.stderr).toContain('[EVIDENCE_INVALID]');
    expect(ran.stderr).toContain('name one of one.jpg');
  });
});

describe('gantrue measure of two photos with a rule in each', () => {
  const WIDTH = 2000;
  let measurement: Measurement;

  /** Column and row in the upright picture of a sensor pixel, made small (EXIF 2.32, Orientation). */
  function shown(photo: number, [u, v]: readonly [number, number]): string {
    const { widthPx, heightPx } = scene.camera;
    const size = WIDTH / widthPx;
    const [w, h] = [widthPx - 1, heightPx - 1];
    const upright: Record<number, readonly [number, number]> = {
      1: [u, v],
      3: [w - u, h - v],
      6: [h - v, u],
      8: [v, w - u],
    };
    const [column, row] = upright[scene.photos[photo]!.orientation]!;
    return `[${((column + 0.5) * size - 0.5).toFixed(1)}, ${((row + 0.5) * size - 0.5).toFixed(1)}]`;
  }

  beforeAll(async () => {
    const rules: string[] = [];
    for (const [photo, angleRad] of [
      [0, 0],
      [1, Math.PI / 2],
    ] as const) {
      await writeSmallPhoto(photo + 1, join(folder.path, `rule-${photo}.jpg`), { widthPx: WIDTH });
      const laid = { fromMm: [210, 90] as const, angleRad, lengthMm: 300, heightMm: 0.8 };
      const [from, to] = seeRule(scene, photo, laid);
      rules.push(
        `  - { photo: rule-${photo}.jpg, from: ${shown(photo, from)}, to: ${shown(photo, to)}, length: 300, height: 0.8, u: 0.02, sigma: 0.3, temperature: 20, material: steel }`,
      );
    }
    await writeFile(join(folder.path, 'rules.yaml'), ['rules:', ...rules, ''].join('\n'));
    const photos = [0, 1].map((photo) => `rule-${photo}.jpg`);
    const ran = await measure([
      ...photos,
      ...['--program', SAMPLE_PROGRAM, '--evidence', 'rules.yaml', '--machine', MACHINE],
      ...['--points', 'nodes.csv', '--json'],
    ]);
    measurement = measurementSchema.parse(JSON.parse(ran.stdout));
  }, 240_000);

  it('finds rules and nodes in agreement', () => {
    const words = measurement.evidence.map(({ what }) => what.replace(/ .*/, ''));
    expect(words.filter((word) => word === 'rule')).toHaveLength(2);
    expect(words).toContain('squareness');
    for (const { what, En } of measurement.evidence) {
      if (En !== undefined) expect(En, what).toBeLessThan(1);
    }
    expect(measurement.evidence.filter(({ En }) => En !== undefined).length).toBeGreaterThan(2);
    expect(measurement.findings.map(({ code }) => code)).not.toContain('EVIDENCE_CONTRADICTS');
  });

  it('tells both scales within their uncertainty', () => {
    for (const [quantity, truth] of [
      [measurement.scale.x, 1.3e-3],
      [measurement.scale.y, -0.6e-3],
    ] as const) {
      const { value, U, state } = told(quantity);
      expect(state).toBe('measured');
      expect(Math.abs(value - truth)).toBeLessThan(U);
      expect(U).toBeLessThan(2e-4);
    }
  });
});
