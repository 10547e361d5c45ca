import { createHash } from 'node:crypto';
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { EXIT } from '../../shared/failure-codes.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../unit/report/make-measurement.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

const PART = 'G21 G90\r\nG0 X0 Y0 Z5\r\nG1 Z-1 F300 (Nut für Ö)\r\nG1 X100 Y200 F900\r\nM30\r\n';

describe('gantrue compensate', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  const path = (name: string) => join(folder.path, name);
  const run = (...args: string[]) =>
    runGantrue(['compensate', 'part.ngc', '--measurement', 'm', ...args], folder.path);

  beforeEach(async () => {
    folder = await emptyFolder();
    await mkdir(path('m'));
    // Squareness alone: X of the second place is 0.085 · 2 mm too far.
    const measurement = makeMeasurement({
      scale: { x: UNDETERMINED, y: UNDETERMINED, ratio: UNDETERMINED },
    });
    await writeFile(path('m/measurement.json'), JSON.stringify(measurement));
    await writeFile(path('part.ngc'), Buffer.from(PART, 'latin1'));
  });
  afterEach(() => folder.remove());

  it('writes the program beside its header, in its own encoding and line ends, and says what it did', async () => {
    const { code, stdout, stderr } = await run();
    expect(code).toBe(EXIT.done);
    expect(stderr).toBe('wrote part-compensated.ngc\n');
    const written = (await readFile(path('part-compensated.ngc'))).toString('latin1');
    expect(written.startsWith('(COMPENSATED BY GANTRUE')).toBe(true);
    expect(written.split('\r\n').slice(-6)).toEqual([
      'G21 G90',
      'G0 X0 Y0 Z5',
      'G1 Z-1 F300 (Nut für Ö)',
      'G1 X99.830 Y200 F900',
      'M30',
      '',
    ]);
    const digest = createHash('sha256').update(await readFile(path('m/measurement.json')));
    expect(written).toContain(digest.digest('hex').slice(0, 16));
    expect(stdout).toContain('squareness      0.850 ± 0.060 mm/m');
    expect(stdout).toMatch(/scale X {9}undetermined: no known length/);
    expect(stdout.replace(/\s+/g, ' ')).toContain('corrected twice');
    expect(stdout).toContain('first run above the work');
    expect(await readdir(folder.path)).toEqual(['m', 'part-compensated.ngc', 'part.ngc']);
  });

  it('prints the same as JSON and nothing else there', async () => {
    const { code, stdout } = await run(
      '--json',
      '--quiet',
      '--only',
      'squareness,scale',
      '--out',
      'x.nc',
    );
    expect(code).toBe(EXIT.done);
    const record = JSON.parse(stdout);
    expect(record).toMatchObject({
      schema: 'gantrue/compensation/1',
      file: 'x.nc',
      toleranceMm: 0.005,
    });
    expect(record.used).toMatchObject([{ what: 'squareness', value: 0.85e-3, unit: 'rad' }]);
    expect(record.lines).toMatchObject({ read: 5, written: 10, changed: 1 });
  });

  it('takes zero, tolerance and units into account', async () => {
    const { code, stdout } = await run(
      '--units',
      'in',
      '--origin',
      '-1,2.5',
      '--tolerance',
      '0.002',
      '--json',
      '--quiet',
    );
    expect(code).toBe(EXIT.done);
    expect(JSON.parse(stdout).origin).toEqual({ x: -25.4, y: 63.5 });
    expect(JSON.parse(stdout).toleranceMm).toBeCloseTo(0.0508, 12);
  });

  it('writes into a folder, replaces its own with --force alone, and never anything else', async () => {
    await mkdir(path('out'));
    expect((await run('--out', 'out')).code).toBe(EXIT.done);
    const again = await run('--out', 'out');
    expect([again.code, again.stderr]).toEqual([
      EXIT.wrongCall,
      expect.stringContaining('[OUTPUT_EXISTS]'),
    ]);
    expect((await run('--out', 'out', '--force')).code).toBe(EXIT.done);
    await writeFile(path('other.ngc'), 'G0 X0 Y0\nM30\n');
    for (const target of ['other.ngc', 'part.ngc', 'm/measurement.json']) {
      const before = await readFile(path(target));
      const { code, stderr } = await run('--out', target, '--force');
      expect([code, stderr]).toEqual([EXIT.wrongCall, expect.stringContaining('[OUTPUT_EXISTS]')]);
      expect(await readFile(path(target))).toEqual(before);
    }
    expect((await run('--out', 'nowhere/x.ngc')).stderr).toContain('[OUTPUT_UNWRITABLE]');
    expect(await readdir(path('out'))).toEqual(['part-compensated.ngc']);
  });

  it('refuses what cannot be compensated with line numbers, and writes nothing', async () => {
    const cases: [string, string, RegExp][] = [
      ['G90 G0 X0 Y0\nG42 D2\nG1 X5 Y5 F9\nM30', 'COMPENSATION_UNSAFE', /line 2: cutter radius/],
      [
        'G90 G0 X0 Y0\nG53 G0 X1\nG38.3 Z-2 F3\nM30',
        'COMPENSATION_UNSAFE',
        /line 2: [\s\S]*line 3: probing/,
      ],
      ['G90 G0 X0 Y0\nG16\nM30', 'PROGRAM_INVALID', /line 2, column 1/],
      ['(COMPENSATED BY GANTRUE)\nG90 G0 X0 Y0\nM30', 'ALREADY_COMPENSATED', /already/],
    ];
    for (const [text, failure, words] of cases) {
      await writeFile(path('part.ngc'), text);
      const { code, stdout, stderr } = await run();
      expect([code, stdout]).toEqual([EXIT.unusableInput, '']);
      expect(stderr).toContain(`[${failure}]`);
      expect(stderr).toMatch(words);
      expect(await readdir(folder.path)).toEqual(['m', 'part.ngc']);
    }
  });

  it('refuses a measurement without anything measured, a travel that would be left, and wrong options', async () => {
    const nothing = await run('--only', 'scale');
    expect([nothing.code, nothing.stderr]).toEqual([
      EXIT.unusableInput,
      expect.stringMatching(
        /scale X: undetermined[\s\S]*\[NOTHING_TO_COMPENSATE\]|\[NOTHING_TO_COMPENSATE\][\s\S]*scale X: undetermined/,
      ),
    ]);
    const measurement = makeMeasurement({ squareness: estimate(-0.85e-3, 0.06e-3, 'rad') });
    await writeFile(path('m/measurement.json'), JSON.stringify(measurement));
    await writeFile(path('machine.yaml'), 'travel: { x: 100, y: 300 }\n');
    const travel = await run('--machine', 'machine.yaml', '--only', 'squareness');
    expect([travel.code, travel.stderr]).toEqual([
      EXIT.unusableInput,
      expect.stringContaining('[TRAVEL_EXCEEDED]'),
    ]);
    for (const wrong of [
      ['--only', 'scale,length'],
      ['--origin', '5'],
      ['--tolerance', '0'],
      ['--tolerance', 'fine'],
    ]) {
      const { code, stderr } = await run(...wrong);
      expect([code, stderr]).toEqual([EXIT.wrongCall, expect.stringContaining('[WRONG_CALL]')]);
    }
    const missing = await runGantrue(['compensate', 'part.ngc'], folder.path);
    expect(missing.code).toBe(EXIT.wrongCall);
    expect(await readdir(folder.path)).toEqual(['m', 'machine.yaml', 'part.ngc']);
  });
});
