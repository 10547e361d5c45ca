import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { copyFile, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, type Ran, ROOT, runGantrue } from './run-gantrue.js';
import { differences } from './same-results.js';

const GANTRUE = join(ROOT, 'dist/cli/gantrue.js');

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
  const simulated = await runGantrue(
    [
      ...['simulate', '--out', 'photos', '--seed', '11', '--lattice', '9x7,50,50', '--quiet'],
      ...['--photos', '3', '--photo-size', '1600x1200'],
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

const measure = (workers: number, ...more: string[]) =>
  runGantrue(
    [
      ...['measure', ...PHOTOS, '--program', 'photos/bed-grid.ngc', '--json', '--quiet'],
      ...['--out', `results-${workers}`, '--workers', String(workers), ...more],
    ],
    folder.path,
  );

describe('photos examined by several threads', () => {
  let alone: Ran;
  beforeAll(async () => {
    alone = await measure(1);
  });

  it('give the same result, however many threads there are', async () => {
    expect(alone.stderr).toBe('');
    expect(alone.code).toBe(0);
    for (const workers of [2, 3]) {
      const ran = await measure(workers);
      expect(ran.stderr).toBe('');
      expect(ran.code).toBe(0);
      expect(differences(JSON.parse(alone.stdout), JSON.parse(ran.stdout))).toEqual([]);
    }
  });

  it('are left out for the same reasons, a copy for the photo that was named before it', async () => {
    const { photos } = JSON.parse((await measure(2, '--force')).stdout);
    expect(photos.map(({ code }: { code?: string }) => code)).toEqual([
      undefined,
      'PHOTO_DUPLICATE',
      'PHOTO_TRUNCATED',
      undefined,
      undefined,
    ]);
    expect(photos[1].reason).toMatch(/photo-1\.jpg/);
  });

  it('get the same verdicts where nothing is measured', async () => {
    const [one, two] = await Promise.all(
      [1, 2].map((workers) => measure(workers, '--photos-only')),
    );
    const [a, b] = [one!, two!].map(({ stdout }) => ({ ...JSON.parse(stdout), checkedAt: '' }));
    expect(differences(a, b)).toEqual([]);
    expect(a.photos).toHaveLength(PHOTOS.length);
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
  return new Promise((resolve, reject) => {
    const child = spawn(
      process.execPath,
      [
        ...[nodeOption, GANTRUE, 'measure', ...PHOTOS, '--program', 'photos/bed-grid.ngc'],
        ...['--out', 'results-lost', '--workers', '2', '--quiet'],
      ],
      { cwd: folder.path, stdio: ['ignore', 'pipe', 'pipe'] },
    );
    let [stdout, stderr] = ['', ''];
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
    });
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, stdout, stderr }));
  });
}
