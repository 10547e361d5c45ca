import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { copyFile, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, type Ran, ROOT, run, runGantrue } from './run-gantrue.js';
import { differences } from './same-results.js';

const GANTRUE = join(ROOT, 'dist/bin/gantrue.js');

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
  const simulated = await runGantrue(
    [
      ...['simulate', '--out', 'photos', '--seed', '11', '--lattice', '9x7,50,50', '--quiet'],
      ...['--photos', '3', '--photo-size', '1200x900'],
    ],
    folder.path,
  );
  if (simulated.code !== 0) throw new Error(simulated.stderr);
  await copyFile(join(folder.path, 'photos/photo-1.jpg'), join(folder.path, 'photos/copy.jpg'));
  const whole = await readFile(join(folder.path, 'photos/photo-3.jpg'));
  await writeFile(join(folder.path, 'photos/cut.jpg'), whole.subarray(0, whole.length / 2));
});
afterAll(() => folder.remove());

const PHOTOS = ['photo-1', 'copy', 'cut', 'photo-2', 'photo-3'].map((name) => `photos/${name}.jpg`);

const measure = (workers: number) =>
  runGantrue(
    [
      ...['measure', ...PHOTOS, '--program', 'photos/bed-grid.ngc', '--json', '--quiet'],
      ...['--out', `results-${workers}`, '--workers', String(workers)],
    ],
    folder.path,
  );

describe('photos examined by several threads', () => {
  let several: Ran;
  beforeAll(async () => {
    several = await measure(3);
  });

  it('give the same result as one after the other', async () => {
    const alone = await measure(1);
    for (const ran of [alone, several]) {
      expect(ran.stderr).toBe('');
      expect(ran.code).toBe(0);
    }
    expect(differences(JSON.parse(alone.stdout), JSON.parse(several.stdout))).toEqual([]);
  });

  it('are left out for the same reasons, a copy for the photo that was named before it', () => {
    const { photos } = JSON.parse(several.stdout);
    expect(photos.map(({ code }: { code?: string }) => code)).toEqual([
      undefined,
      'PHOTO_DUPLICATE',
      'PHOTO_TRUNCATED',
      undefined,
      undefined,
    ]);
    expect(photos[1].reason).toMatch(/photo-1\.jpg/);
  });

  it('of a turned board are cut alike, as the first one that shows both grids has it', async () => {
    const programs = ['first', 'second'].flatMap((name) => [
      '--program',
      join(ROOT, `samples/turned-board/${name}.ngc`),
    ]);
    const simulated = await runGantrue(
      [
        ...['simulate', ...programs, '--out', 'turned', '--seed', '3', '--quiet'],
        ...['--photos', '2', '--photo-size', '1632x1224'],
      ],
      folder.path,
    );
    expect(simulated.code).toBe(0);
    const [one, two] = [1, 2].map((workers) =>
      runGantrue(
        [
          ...['measure', 'turned/photo-1.jpg', 'turned/photo-2.jpg', ...programs, '--photos-only'],
          ...['--json', '--quiet', '--workers', String(workers)],
        ],
        folder.path,
      ),
    );
    const [a, b] = [await one!, await two!].map(({ stdout }) => ({
      ...JSON.parse(stdout),
      checkedAt: '',
    }));
    expect(a.photos.map(({ used }: { used: boolean }) => used)).toEqual([true, true]);
    expect(differences(a, b)).toEqual([]);
  });

  it('are refused with their name where a thread dies', async () => {
    // Loaded into every thread; the main one lives on.
    const deadly = `import { isMainThread, parentPort } from 'node:worker_threads';
      if (!isMainThread) parentPort.once('message', () => process.exit(9));`;
    const ran = await measureWith(`--import=data:text/javascript,${encodeURIComponent(deadly)}`);
    expect(ran.stderr).toMatch(
      /^gantrue: photos\/[\w-]+\.jpg: the thread .* died: .*9 \[WORKER_LOST\]\n {2}hint: .*--workers 1/,
    );
    expect(ran.code).toBe(70);
    expect(existsSync(join(folder.path, 'results-lost'))).toBe(false);
  });

  it('leave nothing behind when they are interrupted', async () => {
    const child = spawn(
      process.execPath,
      [
        ...[GANTRUE, 'measure', join(ROOT, 'samples/sign-shop'), '--workers', '2', '--quiet'],
        ...['--program', join(ROOT, 'samples/sign-shop/bed-grid.ngc'), '--out', 'interrupted'],
      ],
      { cwd: folder.path, stdio: 'ignore' },
    );
    // Long enough for the threads to be at work, far too short for eight photos of 12 megapixels.
    setTimeout(() => child.kill('SIGINT'), 1000);
    const signal = await new Promise((resolve) => child.on('exit', (_, by) => resolve(by)));
    expect(signal).toBe('SIGINT');
    const left = await readdir(folder.path);
    expect(left.filter((name) => name.includes('interrupted') || name.startsWith('.'))).toEqual([]);
  });
});

describe('--workers', () => {
  it('wants a whole number above nothing', async () => {
    for (const count of ['0', '1.5', 'many', '65']) {
      const ran = await runGantrue(['measure', 'a.jpg', '--workers', count], folder.path);
      expect(ran.stderr).toMatch(/whole number from 1 to 64 \[WRONG_CALL\]/);
      expect(ran.code).toBe(2);
    }
  });
});

function measureWith(nodeOption: string): Promise<Ran> {
  return run(
    process.execPath,
    [
      ...[nodeOption, GANTRUE, 'measure', ...PHOTOS, '--program', 'photos/bed-grid.ngc'],
      ...['--out', 'results-lost', '--workers', '2', '--quiet'],
    ],
    folder.path,
  );
}
