import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { planSchema } from '../../shared/schemas/plan.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

describe('gantrue plan', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  beforeAll(async () => {
    folder = await emptyFolder();
  });
  afterAll(async () => folder.remove());

  it('writes program, record, picture and sheet, and prints the sheet', async () => {
    const ran = await runGantrue(['plan', '--travel', '400x300', '--out', 'one'], folder.path);
    expect(ran.code).toBe(0);
    expect((await readdir(join(folder.path, 'one'))).sort()).toEqual([
      'cut-sheet.txt',
      'grid.ngc',
      'plan.json',
      'preview.svg',
    ]);
    expect(ran.stdout).toBe(await readFile(join(folder.path, 'one/cut-sheet.txt'), 'utf8'));
    expect(ran.stdout).toContain('eyewear');
    expect(ran.stderr).toBe('wrote 4 files to one\n');
    const record = planSchema.parse(
      JSON.parse(await readFile(join(folder.path, 'one/plan.json'), 'utf8')),
    );
    expect(record.linesAtX).toEqual([0, 50, 100, 150, 200, 250, 300, 350]);
  });

  it('keeps an earlier plan unless told to replace it, and other files always', async () => {
    const call = ['plan', '--travel', '500x300', '--out', 'one'];
    const refused = await runGantrue(call, folder.path);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain('OUTPUT_EXISTS');
    const replaced = await runGantrue([...call, '--force', '--turned'], folder.path);
    expect(replaced.code).toBe(0);
    // The single grid's files go with their record.
    expect((await readdir(join(folder.path, 'one'))).sort()).toEqual([
      'cut-sheet.txt',
      'first.json',
      'first.ngc',
      'preview-first.svg',
      'preview-second.svg',
      'second.json',
      'second.ngc',
    ]);
    await mkdir(join(folder.path, 'own'));
    await writeFile(join(folder.path, 'own/grid.ngc'), 'G21\n');
    const foreign = await runGantrue(
      ['plan', '--travel', '400x300', '--out', 'own', '--force'],
      folder.path,
    );
    expect(foreign.code).toBe(2);
    expect(await readFile(join(folder.path, 'own/grid.ngc'), 'utf8')).toBe('G21\n');
  });

  it('takes travel and leads from the machine file, inches from the options', async () => {
    await writeFile(
      join(folder.path, 'machine.yaml'),
      'travel: { x: 400, y: 300 }\naxes:\n  x: { drive: screw, lead: 5 }\n',
    );
    const inch = [
      'plan',
      '--machine',
      'machine.yaml',
      '--units',
      'in',
      '--spacing',
      '1.5',
      '--out',
      'two',
      '--json',
    ];
    const ran = await runGantrue(inch, folder.path);
    expect(ran.code).toBe(0);
    const [record] = JSON.parse(ran.stdout);
    expect(record.program.units).toBe('in');
    // 400 mm less twice one inch: 349.2 mm hold nine spacings of 38.1 mm.
    expect(record.linesAtX.length).toBe(10);
    expect(record.linesAtX[1]).toBeCloseTo(38.1, 9);
  });

  it.each([
    [['plan'], 'travel'],
    [['plan', '--travel', '900'], '--travel'],
    [['plan', '--travel', '900x600', '--spacing', '0'], '--spacing'],
    [['plan', '--travel', '900x600', '--marking', 'auto'], '--marking'],
    [['plan', '--travel', '900x600', '--inserts'], '--inserts'],
    [['plan', '--travel', '900x600', '--hole', '8x16'], '--inserts'],
    [['plan', '--travel', '900x600', '--turned', '--inserts', '--hole', '8x16'], '--turned'],
    [['plan', '--travel', '900x600', '--feed', '-1'], '--feed'],
  ])('refuses %j, naming what is wrong', async (args, named) => {
    const ran = await runGantrue([...args, '--out', 'none'], folder.path);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toContain(named);
    expect(ran.stdout).toBe('');
    expect(await readdir(folder.path)).not.toContain('none');
  });

  it('checks any program: prints, draws, and exits with 1 where it leaves the travel', async () => {
    await runGantrue(['plan', '--travel', '400x300', '--out', 'laid', '--quiet'], folder.path);
    const check = ['plan', '--check', 'laid/grid.ngc', '--out', 'checked', '--force'];
    const inside = await runGantrue([...check, '--travel', '400x300'], folder.path);
    expect(inside.code).toBe(0);
    expect(inside.stdout).toContain('shows   lost motion X');
    expect((await readdir(join(folder.path, 'checked'))).sort()).toEqual([
      'check.json',
      'check.svg',
    ]);
    const outside = await runGantrue([...check, '--travel', '390x300', '--json'], folder.path);
    expect(outside.code).toBe(1);
    expect(JSON.parse(outside.stdout).fit.x.isInside).toBe(false);
    const missing = await runGantrue(['plan', '--check', 'nowhere.ngc'], folder.path);
    expect(missing.code).toBe(3);
    expect(missing.stderr).toContain('FILE_MISSING');
  });
});
