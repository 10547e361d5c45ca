import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { driftSchema } from '../../shared/schemas/drift.js';
import { historySchema } from '../../shared/schemas/history.js';
import { importEntries, makeEventEntry, withHistory } from '../../src/history/index.js';
import { success, unwrap } from '../../src/quantity/index.js';
import { simulateYears } from '../simulation/years.js';
import { entryOfRow } from '../simulation/years-entries.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

let folder: Awaited<ReturnType<typeof emptyFolder>>;
let history: string[];
beforeAll(async () => {
  folder = await emptyFolder();
  history = ['--history', join(folder.path, 'deep', 'er', 'history.db')];
  await writeFile(join(folder.path, 'measurement.json'), JSON.stringify(makeMeasurement()));
  await writeFile(
    join(folder.path, 'machine.yaml'),
    'name: Test router\naxes: { x: { stepsPerMm: 320 } }\nbed: { material: mdf }\n',
  );
  await writeFile(
    join(folder.path, 'evidence.yaml'),
    'taken: 2026-11-20\nhumidity: 48\nmarked: { date: 2026-11-20 }\nnotes: belt looks worn\n',
  );
});
afterAll(() => folder.remove());

describe('gantrue log', () => {
  it('adds, lists, shows, removes and brings back', async () => {
    const add = await runGantrue([
      ...['log', 'add', folder.path, '--machine', join(folder.path, 'machine.yaml')],
      ...['--evidence', join(folder.path, 'evidence.yaml'), '--board', 'A', ...history],
    ]);
    expect(add).toMatchObject({ code: 0, stderr: '' });
    expect(add.stdout).toBe(
      'added as number 1: Test router, photographed 2026-11-20 10:02, fresh marks\n',
    );
    const other = join(folder.path, 'other.yaml');
    await writeFile(other, 'name: Another router\n');
    const mixed = await runGantrue(['log', 'add', folder.path, '--machine', other, ...history]);
    expect(mixed.code).toBe(2);
    expect(mixed.stderr).toMatch(
      /of “Another router”, the measurement of “Test router”.*WRONG_CALL/s,
    );
    expect(mixed.stderr).toContain('--machine-name');
    const again = await runGantrue(['log', 'add', folder.path, ...history]);
    expect(again.code).toBe(2);
    expect(again.stderr).toContain('ENTRY_KNOWN');
    const event = await runGantrue(['log', 'event', 'belt tightened', ...history]);
    expect(event.stdout).toMatch(/^added as number 2: Test router, .*repair: belt tightened\n$/);
    const list = await runGantrue(['log', 'list', ...history]);
    expect(list.stdout).toMatch(
      /^ 1 {2}2026-11-20 10:02 {2}board A, freshly marked: squareness 0\.850 ± 0\.060 mm\/m/,
    );
    expect(list.stdout.match(/^ 2 .*repair: belt tightened$/m)).not.toBeNull();
    const show = await runGantrue(['log', 'show', '1', ...history]);
    for (const words of ['48 % relative', 'belt looks worn', 'x.stepsPerMm 320', 'mdf']) {
      expect(show.stdout).toContain(words);
    }
    await runGantrue(['log', 'remove', '1', ...history]);
    expect((await runGantrue(['log', 'list', ...history])).stdout).not.toContain('board A');
    expect((await runGantrue(['log', 'list', '--removed', ...history])).stdout).toContain(
      'board A',
    );
    await runGantrue(['log', 'restore', '1', ...history]);
    expect((await runGantrue(['log', 'list', ...history])).stdout).toContain('board A');
  }, 60_000);

  it('exports what it imports, and writes over nothing unasked', async () => {
    const file = join(folder.path, 'export.json');
    const exported = await runGantrue(['log', 'export', '--out', file, ...history]);
    expect(exported).toMatchObject({ code: 0, stdout: '' });
    const whole = historySchema.parse(JSON.parse(await readFile(file, 'utf8')));
    expect(whole.entries).toHaveLength(2);
    const twice = await runGantrue(['log', 'export', '--out', file, ...history]);
    expect(twice.code).toBe(2);
    expect(twice.stderr).toContain('OUTPUT_EXISTS');
    const other = ['--history', join(folder.path, 'other.db')];
    const imported = await runGantrue(['log', 'import', file, ...other]);
    expect(imported.stdout).toBe('2 entries added, 0 were there already\n');
    const listed = await runGantrue(['log', 'list', '--json', ...other]);
    expect(JSON.parse(listed.stdout).entries).toHaveLength(2);
    const csv = await runGantrue(['log', 'export', '--format', 'csv', ...other]);
    expect(csv.stdout.split('\r\n')).toHaveLength(4);
  }, 60_000);

  it('says what is wrong with a call, and changes nothing', async () => {
    const before = await readdir(folder.path);
    const calls: [readonly string[], number, RegExp][] = [
      [['log', 'add', 'nowhere.json'], 3, /FILE_MISSING/],
      [['log', 'event', '  ', '--machine-name', 'x'], 2, /no words/],
      [['log', 'event', 'later', '--date', '2226-01-01', '--machine-name', 'x'], 2, /has not come/],
      [['log', 'event', 'when', '--date', '1.2.2026', '--machine-name', 'x'], 2, /expected a day/],
      [['log', 'show', '0'], 2, /expected the number/],
      [['log', 'show', '99'], 2, /ENTRY_MISSING/],
      [['log', 'list', '--machine-name', 'Tset router'], 2, /knows Test router/],
      [['log', 'add', folder.path, '--humidity', '180'], 2, /from 0 to 100/],
      [['log', 'lsit'], 2, /unknown command/],
      [['drift', '--machine-name', 'Tset router'], 2, /knows Test router/],
      [['drift', '--all', '--machine-name', 'Test router'], 2, /name none/],
    ];
    for (const [args, code, words] of calls) {
      const place = args[1] === 'lsit' ? [] : history;
      const ran = await runGantrue([...args, ...place]);
      expect(ran.stderr, args.join(' ')).toMatch(words);
      expect(ran.code, args.join(' ')).toBe(code);
      expect(ran.stdout).toBe('');
    }
    expect(await readdir(folder.path)).toEqual(before);
  }, 120_000);
});

describe('gantrue drift', () => {
  const slopes = { squareness: 2e-6 };
  let years: string[];
  beforeAll(async () => {
    const path = join(folder.path, 'years.db');
    years = ['--history', path];
    const drifting = simulateYears({ seed: 21, weeks: 30, slopes });
    const calm = simulateYears({ seed: 22, weeks: 30 }).map((row) => ({
      ...row,
      machine: 'Calm one',
    }));
    const at = new Date(drifting[9]!.at);
    const machine = 'Simulated router';
    const event = unwrap(
      makeEventEntry({ machine, event: 'repair', text: 'rail aligned', at, now: at }),
    );
    const entries = [...[...drifting, ...calm].map((row) => entryOfRow(row)), event];
    unwrap(await withHistory(path, 'create', (open) => success(importEntries(open, entries))));
  });

  it('says what drifts since the last repair, draws it, and names the machine', async () => {
    const ran = await runGantrue(['drift', '--machine-name', 'Simulated router', ...years]);
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toMatch(/20 measurements from .* after: rail aligned|21 measurements/s);
    expect(ran.stdout).toMatch(/squareness .*DRIFTS \+0\.0\d+ mm\/m per month/s);
    expect(ran.stdout).toContain('lost motion X');
    expect(ran.stdout).toContain('nothing but measuring noise');
    expect(ran.stdout).toContain('Machine or board: the machine has moved');
    expect(ran.stdout).toMatch(/o measured, \* trend/);
    const inch = await runGantrue([
      'drift',
      '--machine-name',
      'Simulated router',
      '--units',
      'in',
      ...years,
    ]);
    expect(inch.stdout).toContain('in/ft per month');
    expect(inch.stdout).not.toContain('mm/m');
  }, 60_000);

  it('ranks the machines and exits with 1 where asked', async () => {
    const ran = await runGantrue(['drift', '--all', '--check', ...years]);
    expect(ran.code).toBe(1);
    expect(ran.stdout).toMatch(/1\. Simulated router: squareness .*\n +2\. Calm one: /);
    const calm = await runGantrue(['drift', '--machine-name', 'Calm one', '--check', ...years]);
    expect(calm.code).toBe(0);
  }, 60_000);

  it('prints what its schema says as JSON, and nothing else', async () => {
    const ran = await runGantrue(['drift', '--all', '--json', ...years]);
    const parsed = driftSchema.parse(JSON.parse(ran.stdout));
    expect(parsed.machines.map(({ machine }) => machine)).toEqual(['Simulated router', 'Calm one']);
    expect(ran.stderr).toBe('');
  }, 60_000);
});

describe('gantrue measure --log', () => {
  it('adds what it measured at once, and refuses before the work where nothing names the machine', async () => {
    const place = join(folder.path, 'photos');
    await runGantrue([
      ...['simulate', '--out', place, '--seed', '5', '--lattice', '9x7,50,50'],
      ...['--photos', '2', '--photo-size', '1600x1200'],
    ]);
    const out = join(folder.path, 'measured');
    const measure = (...more: string[]) =>
      runGantrue([
        ...['measure', join(place, 'photo-1.jpg'), join(place, 'photo-2.jpg'), '--log'],
        ...['--program', join(place, 'bed-grid.ngc'), '--out', out, ...history, ...more],
      ]);
    const nameless = await measure();
    expect(nameless.code).toBe(2);
    expect(nameless.stderr).toContain('nothing names the machine');
    const { code, stderr } = await measure('--machine-name', 'Small one', '--marks', 'fresh');
    expect(stderr).toMatch(/added to the history as number 3\n$/);
    expect(code).toBe(0);
    const again = await runGantrue(['log', 'add', out, '--machine-name', 'Small one', ...history]);
    expect(again.stderr).toContain('number 3');
    const { stdout } = await runGantrue(['log', 'show', '3', ...history]);
    expect(stdout).toMatch(/Small one[\s\S]*freshly marked[\s\S]*lost motion X/);
  }, 120_000);
});
