/**
 * What the surroundings do to a run: signals, full disks, folders that may not be written, clocks, languages.
 *
 * GANTRUE_KILLS=300 sends that many signals instead of a few.
 */

import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync } from 'node:fs';
import { chmod, mkdir, readdir, readFile, stat, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, ROOT } from './run-gantrue.js';
import { SAMPLE_PROGRAM } from './sample-photos.js';

const KILLS = Number(process.env.GANTRUE_KILLS ?? 12);
/** How long a short command takes from start to end, on a machine that is busy. */
const SPAN_MS = 1200;
/** Of `simulate` with one small photo. */
const SIMULATE_SPAN_MS = 3500;
const isRoot = process.getuid?.() === 0;
/** An account that owns nothing: 65534 is nobody by custom. */
const NOBODY = 65_534;

interface Ended {
  readonly code: number | null;
  readonly signal: NodeJS.Signals | null;
  readonly stdout: string;
  readonly stderr: string;
}

interface StartOptions {
  readonly cwd?: string;
  readonly env?: Readonly<Record<string, string>>;
  readonly uid?: number;
  readonly stdout?: number;
  /** Sends it so long after the start. */
  readonly signal?: { readonly name: NodeJS.Signals; readonly afterMs: number };
}

function start(args: readonly string[], options: StartOptions = {}): Promise<Ended> {
  return startNode([join(ROOT, 'dist/bin/gantrue.js'), ...args], options);
}

function startNode(
  args: readonly string[],
  { cwd = folder.path, env = {}, uid, stdout: out = -1, signal }: StartOptions,
): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [...args], {
      cwd,
      env: { ...process.env, GANTRUE_HISTORY: '', ...env },
      stdio: ['ignore', out < 0 ? 'pipe' : out, 'pipe'],
      ...(uid === undefined ? {} : { uid, gid: uid }),
    });
    let [stdout, stderr] = ['', ''];
    child.stdout?.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr!.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
    });
    if (signal !== undefined) setTimeout(() => child.kill(signal.name), signal.afterMs);
    child.on('error', reject);
    child.on('close', (code, ended) => resolve({ code, signal: ended, stdout, stderr }));
  });
}

let folder: Awaited<ReturnType<typeof emptyFolder>>;
const at = (...names: string[]) => join(folder.path, ...names);

beforeAll(async () => {
  folder = await emptyFolder();
  const nodes = [0, 120, 240, 360, 480, 600, 720].flatMap((x) =>
    [0, 120, 240, 360, 480].map((y) => [x, y, 1.001 * x + 0.0008 * y, 0.999 * y, 0.05].join(',')),
  );
  await writeFile(at('points.csv'), ['x,y,X,Y,u', ...nodes, ''].join('\n'));
  // More than the small disk holds.
  const cuts = Array.from({ length: 700 }, (_, i) => `G1 X${100 + (i % 200)} Y${100 + i / 10}`);
  await writeFile(
    at('part.ngc'),
    ['G21 G90', 'G0 X100 Y100 Z5', 'G1 Z-1 F300', ...cuts, 'M2', ''].join('\n'),
  );
  await mkdir(at('saved'));
  const ran = await start([...MEASURE, '--out', at('saved')]);
  if (ran.code !== 0) throw new Error(ran.stderr);
}, 60_000);
afterAll(() => folder.remove());

const MEASURE = ['measure', '--points', 'points.csv', '--program', SAMPLE_PROGRAM, '--quiet'];
/** Names that only last while something is written. */
const PASSING = /pending|\.part$|\.new-/;

/** Commands that write, what they leave when they are done, and how long they take. */
const WRITERS: Readonly<
  Record<string, { args: string[]; files: readonly string[]; spanMs?: number }>
> = {
  measure: {
    args: [...MEASURE, '--out', 'results', '--force'],
    files: ['deviations.csv', 'measurement.json', 'report.html'],
  },
  report: {
    args: ['report', 'saved', '--out', 'results'],
    files: ['deviations.csv', 'report.html'],
  },
  plan: {
    args: ['plan', '--travel', '900x600', '--out', 'results', '--force'],
    files: ['cut-sheet.txt', 'grid.ngc', 'plan.json', 'preview.svg'],
  },
  compensate: {
    args: [...['compensate', 'part.ngc', '--measurement', 'saved', '--out', 'results/out.ngc']],
    files: ['out.ngc'],
  },
  'log add': {
    args: [...['log', 'add', 'saved', '--machine-name', 'm', '--history', 'results/h.db']],
    files: ['h.db'],
  },
  simulate: {
    args: [
      ...[
        'simulate',
        '--photos',
        '1',
        '--photo-size',
        '800x600',
        '--seed',
        '3',
        '--out',
        'results',
      ],
      '--force',
    ],
    files: ['bed-grid.ngc', 'evidence.yaml', 'photo-1.jpg', 'truth.json'],
    spanMs: SIMULATE_SPAN_MS,
  },
};

describe('a signal at any moment', () => {
  it.each(Object.keys(WRITERS))(
    'during %s leaves everything or nothing, and ends by the signal',
    async (name) => {
      const { args, files, spanMs = SPAN_MS } = WRITERS[name]!;
      const kills = Math.max(1, Math.round(KILLS / Object.keys(WRITERS).length));
      let interrupted = 0;
      for (let i = 0; i < kills; i += 1) {
        const cwd = at(`signal-${name.replace(' ', '-')}-${i}`);
        await mkdir(join(cwd, 'results'), { recursive: true });
        for (const one of ['points.csv', 'part.ngc']) cpSync(at(one), join(cwd, one));
        cpSync(at('saved'), join(cwd, 'saved'), { recursive: true });
        // Moments spread evenly, the first ones soon after the start.
        const signal = i % 2 === 0 ? 'SIGINT' : 'SIGTERM';
        const afterMs = 100 + (spanMs * (i + 0.5)) / kills;
        const ended = await start(args, { cwd, signal: { name: signal, afterMs } });
        if (ended.signal === null) expect(ended.code, ended.stderr).toBe(0);
        else expect(ended.signal).toBe(signal);
        if (ended.signal !== null) interrupted += 1;
        const left = await readdir(join(cwd, 'results'));
        const kept = left.filter((one) => !/^h\.db-(?:wal|shm)$/.test(one));
        if (kept.length > 0) expect(kept.sort()).toEqual(files);
        if (ended.signal === null) expect(kept).not.toEqual([]);
        expect((await readdir(cwd)).filter((one) => PASSING.test(one))).toEqual([]);
        const again = await start(args, { cwd });
        const isKnown = name !== 'log add' && kept.length > 0 && !args.includes('--force');
        // What was written before is there, whole; or nothing is in the way.
        const expected =
          isKnown || (name === 'log add' && again.stderr.includes('ENTRY_KNOWN')) ? 2 : 0;
        expect(again.code, again.stderr).toBe(expected);
      }
      if (KILLS > 100) console.info(`${name}: ${interrupted} of ${kills} were interrupted`);
    },
    60_000 + KILLS * 10_000,
  );

  it(
    'leaves the results of an earlier run as they were, or replaced as a whole',
    async () => {
      const before = await readFile(at('saved', 'measurement.json'), 'utf8');
      const stamp = (text: string) => JSON.parse(text).measuredAt as string;
      const kills = Math.max(2, Math.round(KILLS / 4));
      for (let i = 0; i < kills; i += 1) {
        const cwd = at(`earlier-${i}`);
        await mkdir(cwd);
        for (const one of ['points.csv', 'part.ngc']) cpSync(at(one), join(cwd, one));
        cpSync(at('saved'), join(cwd, 'saved'), { recursive: true });
        const afterMs = 300 + ((SPAN_MS - 200) * (i + 0.5)) / kills;
        const args = [...MEASURE, '--out', 'saved', '--force'];
        const ended = await start(args, { cwd, signal: { name: 'SIGINT', afterMs } });
        const names = await readdir(join(cwd, 'saved'));
        expect(names.sort()).toEqual(['deviations.csv', 'measurement.json', 'report.html']);
        const after = await readFile(join(cwd, 'saved/measurement.json'), 'utf8');
        if (ended.signal === null) expect(stamp(after)).not.toBe(stamp(before));
        const report = await readFile(join(cwd, 'saved/report.html'), 'utf8');
        expect(report).toContain('</html>');
      }
    },
    60_000 + KILLS * 5000,
  );
});

/** A disk of a few pages, mounted for the test; undefined where that is not allowed. */
async function smallDisk(name: string, kilobytes: number): Promise<string | undefined> {
  const path = at(name);
  await mkdir(path);
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${kilobytes}k`, 'tmpfs', path], {
      stdio: 'pipe',
    });
    return path;
  } catch {
    return undefined;
  }
}

describe('a full disk', () => {
  // The program of the plan alone has 20 kB.
  it.each(Object.keys(WRITERS))(
    'during %s is named, and nothing is left',
    async (name) => {
      const disk = await smallDisk(`disk-${name.replace(' ', '-')}`, 8);
      if (disk === undefined) {
        console.info('skipped: no small disk can be mounted here');
        return;
      }
      try {
        const args = WRITERS[name]!.args.map((word) =>
          word.startsWith('results') ? word.replace('results', disk) : word,
        );
        const ended = await start(args);
        expect(ended.stderr).toMatch(/\[(OUTPUT_UNWRITABLE|HISTORY_UNWRITABLE)\]/);
        expect(ended.stderr).not.toContain('INTERNAL');
        expect(ended.code).toBe(3);
        expect(await readdir(disk)).toEqual([]);
        expect((await readdir(folder.path)).filter((one) => PASSING.test(one))).toEqual([]);
      } finally {
        execFileSync('umount', [disk]);
      }
    },
    60_000,
  );

  it('behind standard output is named, and the exit code tells it', async () => {
    if (!existsSync('/dev/full')) return console.info('skipped: there is no /dev/full');
    const full = await import('node:fs').then(({ openSync }) => openSync('/dev/full', 'w'));
    const ended = await start(['plan', '--travel', '900x600', '--json', '--out', 'unheard'], {
      stdout: full,
    });
    expect(ended.stderr).toContain('standard output: the disk is full [OUTPUT_UNWRITABLE]');
    expect(ended.code).toBe(3);
  });
});

describe('a folder that may not be written', () => {
  it.each(Object.keys(WRITERS))(
    'is named by %s, and nothing is left',
    async (name) => {
      const place = at(`closed-${name.replace(' ', '-')}`);
      await mkdir(place);
      if (isRoot) await chmod(folder.path, 0o755);
      await chmod(place, 0o555);
      const args = WRITERS[name]!.args.map((word) =>
        word.startsWith('results') ? word.replace('results', place) : word,
      );
      const ended = await start(args, isRoot ? { uid: NOBODY } : {});
      expect(ended.stderr).toMatch(/\[(OUTPUT_UNWRITABLE|HISTORY_UNWRITABLE)\]/);
      expect(ended.code).toBe(3);
      await chmod(place, 0o755);
      expect(await readdir(place)).toEqual([]);
    },
    30_000,
  );
});

describe('the surroundings', () => {
  it('a checkout that may not be written is enough to run from', async () => {
    if (!isRoot) return console.info('skipped: only root can run as somebody else');
    const place = at('of-nobody');
    await mkdir(place);
    await chmod(place, 0o777);
    const args = [...MEASURE.map((word) => (word === 'points.csv' ? at('points.csv') : word))];
    const ended = await start([...args, '--out', join(place, 'r')], { uid: NOBODY, cwd: ROOT });
    expect(ended.code, ended.stderr).toBe(0);
    const history = join(place, 'h.db');
    const logged = await start(
      ['log', 'add', join(place, 'r'), '--machine-name', 'm', '--history', history],
      { uid: NOBODY, cwd: ROOT },
    );
    expect(logged.code, logged.stderr).toBe(0);
  }, 30_000);

  it('a language with decimal commas changes no result', async () => {
    const plain = await start([...MEASURE, '--out', 'plain'], { env: { LC_ALL: 'C' } });
    const comma = await start([...MEASURE, '--out', 'comma'], {
      env: { LC_ALL: 'de_DE.UTF-8', LANG: 'de_DE.UTF-8', LC_NUMERIC: 'de_DE.UTF-8' },
    });
    expect(comma.stdout).toBe(plain.stdout);
    expect(await readFile(at('comma', 'deviations.csv'))).toEqual(
      await readFile(at('plain', 'deviations.csv')),
    );
  });

  it.each([
    ['1970', 0],
    ['2038', 2 ** 31 * 1000],
    ['the year 9999', Date.UTC(9999, 11, 31, 23, 59)],
    ['beyond what dates can tell', 8.64e15 - 1],
  ])(
    'a clock that says %s is no fault of ours',
    async (name, now) => {
      const clock = `const { now } = Date; const from = now();
const D = Date; Date.now = () => ${now} + now() - from;
globalThis.Date = class extends D { constructor(...a) { a.length ? super(...a) : super(Math.min(8.64e15, D.now())); } };
globalThis.Date.now = D.now;`;
      const preload = ['--import', `data:text/javascript,${encodeURIComponent(clock)}`];
      const out = `clock-${name}`;
      const command = [...preload, join(ROOT, 'dist/bin/gantrue.js')];
      const ended = await startNode([...command, ...MEASURE, '--out', out], {});
      expect([0, 2, 3], ended.stderr).toContain(ended.code);
      const history = ['--history', `${out}.db`];
      const added = await startNode(
        [...command, 'log', 'add', 'saved', '--machine-name', 'm', ...history],
        {},
      );
      expect([0, 2, 3], added.stderr).toContain(added.code);
      const drift = await startNode([...command, 'drift', ...history], {});
      expect([0, 2, 3], drift.stderr).toContain(drift.code);
    },
    30_000,
  );

  it('links: results go where a folder’s link leads, a link to a file is replaced and not followed', async () => {
    await mkdir(at('target'));
    await symlink(at('target'), at('link'));
    const first = await start([...MEASURE, '--out', 'link']);
    expect(first.code, first.stderr).toBe(0);
    expect(await readdir(at('target'))).toContain('measurement.json');
    const precious = at('precious.txt');
    await writeFile(precious, 'mine');
    await mkdir(at('trap'));
    await symlink(precious, at('trap', 'report.html'));
    const refused = await start([...MEASURE, '--out', 'trap', '--force']);
    expect(refused.stderr).toContain('OUTPUT_EXISTS');
    expect(await readFile(precious, 'utf8')).toBe('mine');
    await symlink(at('nowhere'), at('dangling'));
    const dangling = await start([...MEASURE, '--out', 'dangling']);
    expect([0, 3], dangling.stderr).toContain(dangling.code);
    expect((await readdir(folder.path)).filter((one) => PASSING.test(one))).toEqual([]);
  });

  it('the history is not written over by an export that reaches it by another way', async () => {
    await mkdir(at('years'));
    await symlink(at('years'), at('same-years'));
    const history = ['--history', 'years/h.db'];
    await start(['log', 'add', 'saved', '--machine-name', 'm', ...history]);
    const before = (await stat(at('years', 'h.db'))).size;
    const ended = await start(['log', 'export', '--out', 'same-years/h.db', '--force', ...history]);
    expect(ended.stderr).toContain('[OUTPUT_EXISTS]');
    expect(ended.code).toBe(2);
    expect((await stat(at('years', 'h.db'))).size).toBe(before);
  });

  it('a reader that takes one line and leaves is no fault', () => {
    const out = execFileSync(
      'sh',
      [
        '-c',
        `"$0" "$1" plan --travel 900x600 --json --out piped 2>err.txt | head -1`,
        process.execPath,
        join(ROOT, 'dist/bin/gantrue.js'),
      ],
      { cwd: folder.path, encoding: 'utf8' },
    );
    expect(out).toMatch(/^[[{]\n$/);
    expect(existsSync(at('piped', 'plan.json'))).toBe(true);
  });
});
