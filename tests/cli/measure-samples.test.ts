import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  type Measurement,
  measurementSchema,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM, samplePhoto } from './sample-photos.js';

const PHOTOS = [1, 2, 3, 4, 5, 6, 7, 8];
const MACHINE = join(SAMPLE_FOLDER, 'machine.yaml');

/** Bounds that a shop needs from eight photos: well inside its limits of 0.2 mm/m and 0.05 mm. */
const SQUARENESS_WITHIN_RAD = 0.06e-3;
const LOST_MOTION_WITHIN_MM = 0.01;

interface Truth {
  readonly squareness: number;
  readonly scale: { readonly x: number; readonly y: number; readonly ratio: number };
  readonly lostMotion: { readonly x: number; readonly y: number };
  readonly straightness: { readonly x: number; readonly y: number };
  readonly racking: number;
}

describe('gantrue measure on the sample photos', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  let out: string;
  let ran: Ran;
  let measurement: Measurement;
  let truth: Truth;

  beforeAll(async () => {
    folder = await emptyFolder();
    out = join(folder.path, 'results');
    ran = await runGantrue([
      'measure',
      ...PHOTOS.map(samplePhoto),
      ...['--program', SAMPLE_PROGRAM],
      ...['--machine', MACHINE],
      ...['--evidence', join(SAMPLE_FOLDER, 'evidence.yaml')],
      ...['--out', out, '--json', '--check'],
    ]);
    measurement = measurementSchema.parse(JSON.parse(ran.stdout));
    truth = JSON.parse(await readFile(join(SAMPLE_FOLDER, 'truth.json'), 'utf8'));
  }, 240_000);

  afterAll(() => folder.remove());

  it('prints the measurement on standard output and nothing else', () => {
    expect(ran.stdout.startsWith('{')).toBe(true);
    expect(ran.stdout.endsWith('}\n')).toBe(true);
  });

  it('exits with 1 under --check, because the machine is outside its limits', () => {
    expect(ran.code).toBe(1);
  });

  it('notes on standard error what it wrote and no control characters', () => {
    expect(ran.stderr).toBe(`wrote 11 files to ${out}\n`);
  });

  it('keeps when the grid was marked and photographed, and is not compared with itself', async () => {
    expect(measurement.marked).toBe('2026-11-20');
    expect(measurement.taken).toBe('2026-11-20');
    const compared = await runGantrue(['compare', out, out]);
    expect(compared.code).toBe(0);
    expect(compared.stdout.replace(/\s+/g, ' ')).toContain('given twice [SAME_MEASUREMENT]');
  });

  it('writes the same measurement, the report, the table and one picture per photo', async () => {
    const names = [
      'deviations.csv',
      'measurement.json',
      ...PHOTOS.map((number) => `overlay-photo-${number}.jpg`),
      'report.html',
    ];
    expect((await readdir(out)).sort()).toEqual(names);
    const saved = JSON.parse(await readFile(join(out, 'measurement.json'), 'utf8'));
    expect(saved).toEqual(measurement);
  });

  it('uses all eight photos', () => {
    expect(measurement.photos.map(({ used }) => used)).toEqual(PHOTOS.map(() => true));
  });

  it('finds squareness and lost motion as close as a shop needs them', () => {
    expect(Math.abs(estimateOf(measurement.squareness) - truth.squareness)).toBeLessThan(
      SQUARENESS_WITHIN_RAD,
    );
    for (const axis of ['x', 'y'] as const) {
      const error = estimateOf(measurement.lostMotion[axis]) - truth.lostMotion[axis];
      expect(Math.abs(error), axis).toBeLessThan(LOST_MOTION_WITHIN_MM);
    }
  });

  it('holds every truth within the expanded uncertainty', () => {
    const pairs: readonly [string, Quantity, number][] = [
      ['squareness', measurement.squareness, truth.squareness],
      ['scale x', measurement.scale.x, truth.scale.x],
      ['scale y', measurement.scale.y, truth.scale.y],
      ['scale ratio', measurement.scale.ratio, truth.scale.ratio],
      ['lost motion x', measurement.lostMotion.x, truth.lostMotion.x],
      ['lost motion y', measurement.lostMotion.y, truth.lostMotion.y],
      ['straightness x', measurement.straightness.x, truth.straightness.x],
      ['straightness y', measurement.straightness.y, truth.straightness.y],
      ['racking', measurement.racking, truth.racking],
    ];
    for (const [name, quantity, value] of pairs) {
      if (quantity.state !== 'measured') throw new Error(`${name} is ${quantity.state}`);
      expect(Math.abs(quantity.value - value), name).toBeLessThanOrEqual(quantity.U);
    }
  });

  it('judges by the limits of the machine file', () => {
    const verdicts = Object.fromEntries(measurement.verdicts.map((v) => [v.what, v.verdict]));
    // Truths: 0.85 mm/m of 0.2; X 1.3 of 0.2; 0.06 and 0.14 mm of 0.05; 0.06 and 0.014 mm of 0.1.
    const outside = Object.keys(verdicts).filter((what) => verdicts[what] === 'outside');
    expect(outside).toEqual(['squareness', 'scale.x', 'lostMotion.x', 'lostMotion.y']);
    expect(verdicts['straightness.x']).toBe('inside');
    expect(verdicts['straightness.y']).toBe('inside');
  });

  it('says in words which side of the gantry to move which way and by how much', async () => {
    const told = await runGantrue(['propose', out, '--machine', MACHINE]);
    expect(told.code).toBe(0);
    expect(told.stderr).toBe('');
    const found = /squareness: bring the \+X side toward −Y by (\d+\.\d+) ± (\d+\.\d+) mm\n/.exec(
      told.stdout,
    );
    expect(found, told.stdout).not.toBeNull();
    // The Y axis leans by 0.85 mm/m over the 940 mm between the drives.
    expect(Math.abs(Number(found![1]) - 0.85 * 0.94)).toBeLessThan(SQUARENESS_WITHIN_RAD * 1e3);
    expect(told.stdout).toMatch(/steps per unit X: from 320 to \d{3}\.\d+ steps\/mm/);
    // The settings in the form of the machine file; Y stays as it is.
    expect(told.stdout).toMatch(/ {2}steps X = 319\.\d+\n {2}steps Y = 84\.883\n/);
  });

  it('shows people inches and leaves the files in mm', async () => {
    const inch = await runGantrue(['propose', out, '--machine', MACHINE, '--units', 'in']);
    expect(inch.code).toBe(0);
    expect(inch.stdout).toMatch(/toward −Y by 0\.03\d* ± 0\.00\d+ in\n/);
    const saved = JSON.parse(await readFile(join(out, 'measurement.json'), 'utf8'));
    expect(saved.lostMotion.x.unit).toBe('mm');
  });

  it('writes the report again only where it was told to replace it', async () => {
    const refused = await runGantrue(['report', out]);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain('[OUTPUT_EXISTS]');
    const again = await runGantrue(['report', out, '--out', join(folder.path, 'again')]);
    expect(again.code).toBe(0);
    const page = await readFile(join(folder.path, 'again/report.html'), 'utf8');
    expect(page).toContain('Sign shop router');
  });
});

function estimateOf(quantity: Quantity): number {
  return quantity.state === 'undetermined' ? Number.NaN : quantity.value;
}
