import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runCli } from '../../../cli/run-cli.js';
import { propose } from '../../../src/index.js';
import { makeMeasurement } from '../report/make-measurement.js';

const MACHINE = [
  'gantryAxis: y',
  'homing: { y: - }',
  'axes:',
  '  x: { stepsPerMm: 320 }',
  '  y: { stepsPerMm: 84.883, drives: 2, driveSpacing: 940 }',
  'settings: |',
  '  X {{x.stepsPerMm}}',
].join('\n');

let base = '';
let machineFile = '';
beforeAll(async () => {
  base = await mkdtemp(join(tmpdir(), 'gantrue-cli-'));
  machineFile = join(base, 'machine.yaml');
  await writeFile(machineFile, MACHINE);
  await writeMeasurement('saved.json');
});
afterAll(async () => {
  await rm(base, { recursive: true, force: true });
});

async function writeMeasurement(name: string): Promise<string> {
  const measurement = makeMeasurement();
  measurement.proposals = propose(measurement, undefined, undefined);
  await writeFile(join(base, name), JSON.stringify(measurement));
  return join(base, name);
}

interface Terminal {
  readonly isTTY?: boolean;
  readonly env?: Record<string, string>;
  readonly write?: (text: string) => void;
}

async function run(args: readonly string[], terminal: Terminal = {}) {
  let stdout = '';
  let stderr = '';
  const exitCode = await runCli(args, {
    streams: {
      stdout: {
        write: (text: string) => {
          terminal.write?.(text);
          stdout += text;
        },
        isTTY: terminal.isTTY === true,
        columns: 80,
      },
      stderr: {
        write: (text: string) => {
          stderr += text;
        },
        isTTY: terminal.isTTY === true,
        columns: 80,
      },
      env: terminal.env ?? {},
    },
    now: () => new Date('2026-11-20T10:00:00Z'),
    version: '0.1.0',
  });
  return { exitCode, stdout, stderr };
}

describe('the command line', () => {
  it('prints help and version on standard output', async () => {
    expect(await run(['--version'])).toEqual({ exitCode: 0, stdout: '0.1.0\n', stderr: '' });
    const help = await run(['--help']);
    expect(help.exitCode).toBe(0);
    for (const name of ['measure', 'propose', 'compare', 'report', 'simulate']) {
      expect(help.stdout).toContain(name);
    }
  });

  it('answers every wrong call with code 2, one line, a hint, and nothing on standard output', async () => {
    for (const args of [
      ['mesure'],
      ['measure'],
      ['measure', 'a.jpg'],
      ['measure', 'a.jpg', '--nonsense'],
      ['measure', 'a.jpg', '--program', 'b', '--units', 'cm'],
      ['measure', 'a.jpg', '--program', 'b', '--origin', 'middle'],
      ['measure', 'a.jpg', '--program', 'b', '--known', '1 2 3'],
      ['measure', 'a.jpg', '--program'],
      ['propose', 'a.json'],
      ['report', 'a.json', 'b.json'],
      ['compare', 'a.json'],
      ['simulate', '--photos', '0'],
      ['simulate', '--squareness', 'much'],
      ['simulate', '--program', 'a', '--lattice', '5x5,10,10'],
    ]) {
      const { exitCode, stdout, stderr } = await run(args);
      expect(exitCode, args.join(' ')).toBe(2);
      expect(stdout, args.join(' ')).toBe('');
      expect(stderr, args.join(' ')).toMatch(
        /^gantrue: [^A-Z].*[^.] \[WRONG_CALL\]\n(?: {2}.*\n)*/,
      );
      expect(stderr, args.join(' ')).toMatch(/\n {2}hint: .*[^.]\n$/);
    }
  });

  it('names every problem of a file, and exits with 3', async () => {
    const bad = join(base, 'bad.yaml');
    await writeFile(bad, 'gantryAxis: q\nsteps: 3\n');
    const { exitCode, stderr } = await run(['propose', join(base, 'saved.json'), '--machine', bad]);
    expect(exitCode).toBe(3);
    expect(stderr).toContain('[MACHINE_INVALID]\n  line 1: gantryAxis');
    expect(stderr).toContain('\n  line 2: steps: unknown key');
  });

  it('calls what it did not expect a fault of its own, 70, and asks for a report', async () => {
    const { exitCode, stderr } = await run(
      ['propose', join(base, 'saved.json'), '--machine', machineFile],
      {
        write: () => {
          throw new TypeError('made up');
        },
      },
    );
    expect(exitCode).toBe(70);
    expect(stderr).toMatch(/a fault of the tool itself.*\[INTERNAL\]/);
    expect(stderr).toContain('made up');
    expect(stderr).toMatch(/please report it/);
  });
});

describe('gantrue propose', () => {
  const call = (...more: string[]) => [
    'propose',
    join(base, 'saved.json'),
    '--machine',
    machineFile,
    ...more,
  ];

  it('says side, direction and amount for this machine, and fills in its settings', async () => {
    const { exitCode, stdout } = await run(call());
    expect(exitCode).toBe(0);
    // 0.94 m × 0.85 mm/m; 320 / 1.0013 = 319.58454
    expect(stdout).toContain('bring the +X side toward −Y by 0.799 ± 0.056 mm');
    expect(stdout.replace(/\s+/g, ' ')).toMatch(/reduce its pull-off .* by as much/);
    expect(stdout).toContain('\n  X 319.585\n');
  });

  it('prints JSON and nothing else where asked', async () => {
    const { stdout, stderr } = await run(call('--json'), { isTTY: true });
    const result = JSON.parse(stdout);
    expect(result.settings.text).toBe('X 319.585');
    expect(result.proposals[0]).toMatchObject({ what: 'squareness', side: '+X side' });
    expect(result.verdicts[0]).toMatchObject({ what: 'squareness', verdict: 'outside' });
    expect(stderr).toBe('');
  });

  it('uses colour only at a terminal where nobody declined', async () => {
    const isColoured = async (args: string[], terminal: Terminal) =>
      (await run(args, terminal)).stdout.includes('\u001b[');
    expect(await isColoured(call(), { isTTY: true })).toBe(true);
    expect(await isColoured(call(), {})).toBe(false);
    expect(await isColoured(call('--no-color'), { isTTY: true })).toBe(false);
    expect(await isColoured(call(), { isTTY: true, env: { NO_COLOR: '1' } })).toBe(false);
    expect(await isColoured(call(), { isTTY: true, env: { NO_COLOR: '' } })).toBe(true);
  });
});

describe('gantrue report', () => {
  it('writes the report beside the measurement once, and again only by force', async () => {
    const saved = await writeMeasurement('measurement.json');
    expect((await run(['report', base, '--quiet'])).exitCode).toBe(0);
    expect(await readdir(base)).toContain('report.html');
    const again = await run(['report', saved]);
    expect(again.exitCode).toBe(2);
    expect(again.stderr).toContain('[OUTPUT_EXISTS]');
    const forced = await run(['report', saved, '--force', '--units', 'in']);
    expect(forced.exitCode).toBe(0);
    expect(forced.stdout).toContain('in/ft');
    expect(forced.stderr).toMatch(/^wrote .*report\.html/);
  });
});

describe('gantrue simulate', () => {
  const out = () => join(base, 'sim');
  const call = (...more: string[]) => [
    'simulate',
    ...['--out', out(), '--photos', '1', '--photo-size', '640x480', '--lattice', '6x5,40,40'],
    ...['--squareness', '-1.5', '--scale-x', '0.7', '--lost-motion-y', '0.2'],
    ...['--straightness-x', '0.3', '--json', ...more],
  ];

  it('renders a machine whose chosen errors hold over the grid', async () => {
    const { exitCode, stdout } = await run(call());
    expect(exitCode).toBe(0);
    const truth = JSON.parse(stdout);
    expect(truth.squareness).toBeCloseTo(-1.5e-3, 9);
    expect(truth.scale.x).toBeCloseTo(0.7e-3, 9);
    expect(truth.lostMotion.y).toBe(0.2);
    expect(truth.straightness.x).toBeCloseTo(0.3, 3);
    expect((await readdir(out())).sort()).toEqual([
      'bed-grid.ngc',
      'evidence.yaml',
      'photo-1.jpg',
      'truth.json',
    ]);
  });

  it('replaces its own photos by force only, and those of others never', async () => {
    expect((await run(call())).exitCode).toBe(2);
    expect((await run(call('--force'))).exitCode).toBe(0);
    await rm(join(out(), 'truth.json'));
    const refused = await run(call('--force'));
    expect(refused.exitCode).toBe(2);
    expect(refused.stderr).toContain('not written by an earlier simulation');
    expect((await readdir(base)).filter((name) => name.includes('pending'))).toEqual([]);
  });
});
