import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, type TestContext } from 'vitest';
import { emptyFolder, ROOT, run } from './run-gantrue.js';

/** npm could not reach its registry: nothing is said about the package then. */
const NO_NETWORK = /ENOTFOUND|EAI_AGAIN|ECONNREFUSED|ECONNRESET|ETIMEDOUT|ENETUNREACH|ENOTCACHED/;

describe('the packed tool', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  let packed: { filename: string; size: number; files: { path: string }[] };
  let refused: string | undefined;
  const npx = (args: readonly string[]) =>
    run('npx', ['--no-install', 'gantrue', ...args], folder.path);

  beforeAll(async () => {
    folder = await emptyFolder();
    // Built already: building here would pull dist/ from under tests that run at the same time.
    const pack = await run(
      'npm',
      ['pack', '--ignore-scripts', '--json', '--pack-destination', folder.path],
      ROOT,
    );
    if (pack.code !== 0) throw new Error(pack.stderr);
    packed = JSON.parse(pack.stdout)[0];
    await writeFile(join(folder.path, 'package.json'), '{ "private": true }\n');
    const install = await run(
      'npm',
      ['install', '--no-audit', '--no-fund', '--prefer-offline', packed.filename],
      folder.path,
    );
    if (install.code === 0) return;
    if (!NO_NETWORK.test(install.stderr)) throw new Error(install.stderr);
    refused = 'npm install found no network';
  }, 240_000);

  afterAll(() => folder.remove());

  it('holds the program, the schemas and the README, but no photos, tests or sources', () => {
    const paths = packed.files.map(({ path }) => path);
    for (const path of [
      'README.md',
      'dist/bin/gantrue.js',
      'dist/bin/index.js',
      'dist/src/index.d.ts',
      'dist/bin/photo-worker.js',
      'shared/schemas/measurement.schema.json',
    ]) {
      expect(paths).toContain(path);
    }
    const strangers = paths.filter(
      (path) =>
        !/^(?:README\.md|package\.json|dist\/.*\.(?:js|d\.ts)|shared\/.*\.schema\.json)$/.test(
          path,
        ),
    );
    expect(strangers).toEqual([]);
  });

  it('weighs less than one photo', () => {
    expect(packed.size).toBeLessThan(1e6);
  });

  it('tells its version', async (context) => {
    skipWithoutNetwork(context);
    const { version } = JSON.parse(await readFile(join(ROOT, 'package.json'), 'utf8'));
    const ran = await npx(['--version']);
    expect(ran.stdout).toBe(`${version}\n`);
    expect(ran.code).toBe(0);
  });

  it('renders photos of a machine and measures it', async (context) => {
    skipWithoutNetwork(context);
    const simulated = await npx([
      ...['simulate', '--out', 'photos', '--seed', '5', '--lattice', '9x7,50,50'],
      ...['--photos', '2', '--photo-size', '1600x1200', '--lost-motion-x', '0.3'],
    ]);
    expect(simulated.stderr).toBe('');
    expect(simulated.code).toBe(0);
    const measured = await npx([
      ...['measure', 'photos/photo-1.jpg', 'photos/photo-2.jpg'],
      ...['--program', 'photos/bed-grid.ngc', '--out', 'results', '--json'],
    ]);
    expect(measured.stderr).toBe('wrote 5 files to results\n');
    expect(measured.code).toBe(0);
    const { lostMotion } = JSON.parse(measured.stdout);
    // Photos of 0.3 mm a pixel; a tenth of the chosen value is far more than their noise.
    expect(Math.abs(lostMotion.x.value - 0.3)).toBeLessThan(0.03);
  });

  it('is a library with one door', async (context) => {
    skipWithoutNetwork(context);
    const script = "const g = await import('gantrue'); console.log(typeof g.survey);";
    const ran = await run(process.execPath, ['--input-type=module', '-e', script], folder.path);
    expect(ran.stdout).toBe('function\n');
  });

  function skipWithoutNetwork(context: TestContext): void {
    if (refused === undefined) return;
    console.warn(`skipped: ${refused}`);
    context.skip(refused);
  }
});
