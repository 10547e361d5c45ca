import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Forecast, forecastSchema } from '../../shared/schemas/forecast.js';
import { emptyFolder, ROOT, runGantrue } from './run-gantrue.js';

const SAMPLE = ['--program', join(ROOT, 'samples/sign-shop/bed-grid.ngc')];
const TURNED = ['first', 'second'].flatMap((name) => [
  '--program',
  join(ROOT, `samples/turned-board/${name}.ngc`),
]);
const SMALL = ['--lattice', '9x7,50,50'];

async function json(...args: string[]): Promise<Forecast> {
  const ran = await runGantrue(['forecast', ...args, '--json']);
  expect(ran.stderr).toBe('');
  return forecastSchema.parse(JSON.parse(ran.stdout));
}

function quantity(forecast: Forecast, name: string) {
  return forecast.quantities.find(({ what }) => what === name)!;
}

describe('gantrue forecast', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  beforeAll(async () => {
    folder = await emptyFolder();
  });
  afterAll(async () => folder.remove());

  it('says what the sample program and eight photos will reach, with what is to be added', async () => {
    const ran = await runGantrue(['forecast', ...SAMPLE]);
    expect(ran.code).toBe(0);
    expect(ran.stderr).toBe('');
    expect(ran.stdout).toMatch(/^Forecast for 25 × 17 lines over 720 mm × 480 mm\n8 photos/);
    expect(ran.stdout).toMatch(/\nsquareness +U 0\.1\d mm\/m/);
    expect(ran.stdout).toMatch(/\nscale X +undetermined\n +no known length/);
    for (const line of ran.stdout.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
  });

  it('foretells what the sample was measured with: squareness to 0.14 mm/m', async () => {
    // The sample's own measurement states 0.14 mm/m for squareness and 0.0021 mm for lost motion of X.
    const forecast = await json(...SAMPLE, '--pixel', '0.0074', '--mark', '0.0113');
    expect(Math.abs(quantity(forecast, 'squareness').U! / 1.4e-4 - 1)).toBeLessThan(0.15);
    expect(Math.abs(quantity(forecast, 'lostMotion.x').U! / 2.1e-3 - 1)).toBeLessThan(0.15);
  });

  it('foretells what the sample of a turned board was measured with: ratio to 0.033 mm/m, from one photo', async () => {
    // Its own measurement states 0.033 and 0.0028 mm, from a photo turned so that 0.29 mm of the board make a pixel.
    const seen = ['--picture', '3264x2448', '--fill', '63'];
    const forecast = await json(...TURNED, ...seen);
    expect(forecast.photos).toEqual([expect.objectContaining({ count: 1 })]);
    expect(forecast.mmPerPx).toBeCloseTo(0.29, 2);
    expect(Math.abs(quantity(forecast, 'scale.ratio').U! / 3.3e-5 - 1)).toBeLessThan(0.15);
    expect(Math.abs(quantity(forecast, 'lostMotion.x').U! / 2.8e-3 - 1)).toBeLessThan(0.15);
    const half = await json(...TURNED, '--turn', '180');
    expect(quantity(half, 'squareness').state).toBe('undetermined');
    const { stdout } = await runGantrue(['forecast', ...TURNED, '--turn', '-45']);
    expect(stdout.replace(/\s+/g, ' ')).toContain('marked twice with the board turned 45° between');
  });

  it('names one photo of a turned board for what eight of one grid would take', async () => {
    const { want } = await json(...TURNED, '--want', 'squareness 0.1');
    expect(want!.tried[want!.cheapest!]!.photos).toEqual([expect.objectContaining({ count: 1 })]);
  });

  it('tells nothing of lost motion for a plain grid, and of scale only with a tape', async () => {
    const open = await json(...SMALL);
    expect(quantity(open, 'lostMotion.x').state).toBe('undetermined');
    expect(quantity(open, 'scale.x').state).toBe('undetermined');
    expect(quantity(open, 'scale.x').add?.join()).toContain('tape');
    const taped = await json(...SMALL, '--taped', 'x', '--tape-class', 'I');
    const { state, U, share } = quantity(taped, 'scale.x');
    expect(state).toBe('measured');
    // Class I: 0.1 mm + 0.1 mm per metre begun, a rectangle of 0.2 mm, and 0.3 mm for the reading; over 400 mm.
    expect(U! / ((2 * Math.hypot(0.2 / Math.sqrt(3), 0.3)) / 400)).toBeCloseTo(1, 1);
    expect(share?.evidence).toBeGreaterThan(0.9);
  });

  it('counts a square check in', async () => {
    const one = ['--photos', '1 overhead'];
    expect(quantity(await json(...SMALL, ...one), 'squareness').state).toBe('undetermined');
    const { state, U } = quantity(
      await json(...SMALL, ...one, '--square', '300 0.02'),
      'squareness',
    );
    expect(state).toBe('measured');
    expect(U).toBeLessThanOrEqual((2 * 0.02) / 300);
  });

  it('names the cheapest photos for what is wanted, and says so by the exit code', async () => {
    const ran = await runGantrue(['forecast', ...SMALL, '--want', 'squareness 0.3', '--check']);
    expect(ran.code).toBe(0);
    expect(ran.stdout).toMatch(/the cheapest set that reaches what is wanted: \d+ photos/);
    expect(ran.stdout).toMatch(/\n=> +\d+ min/);
    const never = await runGantrue([
      'forecast',
      ...SMALL,
      '--want',
      'squareness 0.0001',
      '--check',
    ]);
    expect(never.code).toBe(1);
    expect(never.stdout).toContain('no set of photos reaches what is wanted');
    expect(never.stdout).toContain('% of its variance');
    const open = await runGantrue(['forecast', ...SMALL, '--check']);
    expect(open.code).toBe(4);
  });

  it('adds a tape by itself where a scale is wanted', async () => {
    const { want } = await json(...SMALL, '--want', 'scale x 2.5', '--tape-class', 'I');
    const found = want!.tried[want!.cheapest!]!;
    expect(found.lengths.length).toBeGreaterThan(0);
    expect(found.U[0]).toBeLessThanOrEqual(2.5e-3);
  });

  it('reads periods and the gantry axis from the machine file', async () => {
    const machine = join(folder.path, 'machine.yaml');
    await writeFile(machine, 'gantryAxis: none\naxes:\n  x: { drive: screw, lead: 7 }\n');
    const ran = await runGantrue(['forecast', ...SAMPLE, '--machine', machine]);
    expect(ran.stdout).toMatch(/\nperiodic X +U 0\.0\d+ mm/);
    expect(ran.stdout).not.toContain('periodic Y');
    expect(ran.stdout).not.toContain('racking');
  });

  it.each([
    [['forecast'], 2, 'WRONG_CALL', 'expected --program, --grid or --lattice'],
    [['forecast', '--lattice', '9x7'], 2, 'WRONG_CALL', 'grid'],
    [['forecast', '--lattice', '9x3,50,50'], 3, 'PROGRAM_NO_GRID', 'only 3 lines'],
    [['forecast', ...SMALL, ...SAMPLE], 2, 'WRONG_CALL', '--lattice stands for'],
    [['forecast', ...TURNED, ...SAMPLE], 2, 'WRONG_CALL', '3 programs'],
    [['forecast', ...SAMPLE, '--turn', '90'], 2, 'WRONG_CALL', 'two programs'],
    [['forecast', ...TURNED, '--turn', '-2'], 2, 'WRONG_CALL', 'at least 5 degrees'],
    [['forecast', ...TURNED, '--turn', '270'], 2, 'WRONG_CALL', '--turn'],
    [['forecast', '--program', 'nowhere.ngc'], 3, 'FILE_MISSING', 'nowhere.ngc'],
    [['forecast', ...SMALL, '--photos', 'many'], 2, 'WRONG_CALL', '--photos'],
    [['forecast', ...SMALL, '--want', 'beauty 1'], 2, 'WRONG_CALL', '--want'],
    [['forecast', ...SMALL, '--taped', '0,0 4000,0'], 3, 'EVIDENCE_INVALID', 'outside the grid'],
    [['forecast', ...SMALL, '--taped', '0,0 0,0'], 2, 'WRONG_CALL', '--taped'],
    [['forecast', ...SMALL, '--tape-class', 'IV'], 2, 'WRONG_CALL', 'I, II, III'],
    [['forecast', ...SMALL, '--speed', '1'], 2, 'WRONG_CALL', 'unknown option'],
  ] as [string[], number, string, string][])(
    'refuses %j with %i, %s',
    async (args, code, failure, text) => {
      const ran = await runGantrue(args);
      expect(ran.stdout).toBe('');
      expect(ran.code).toBe(code);
      expect(ran.stderr).toContain(`[${failure}]`);
      expect(ran.stderr).toContain(text);
      expect(ran.stderr).toContain('hint:');
    },
  );
});
