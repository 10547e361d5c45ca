import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { propose } from '../../src/index.js';
import { makeMeasurement } from '../unit/report/make-measurement.js';
import { emptyFolder, ROOT, runGantrue } from './run-gantrue.js';

const WRITER = join(ROOT, 'dist/src/survey/output-folder.js');
const KILLS = 12;
const PICTURES = 6;

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  if (!existsSync(WRITER)) throw new Error('dist/ is not built: `npm run build` comes first');
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

/** Writes one set after the other, each carrying its number in every file, until it is killed. */
const WRITE_FOR_EVER = `
const { writeOutputFolder } = await import(process.argv[1]);
const measurement = JSON.parse(process.argv[3]);
for (let n = Number(process.argv[4]); ; n += 1) {
  const stamp = String(n).padEnd(20000, '.');
  const overlays = Array.from({ length: ${PICTURES} }, (_, i) => 'overlay-' + i + '.jpg');
  const photos = overlays.map((overlay) => ({ file: overlay, used: true, overlay }));
  const outcome = await writeOutputFolder(process.argv[2], [
    { name: 'measurement.json', content: JSON.stringify({ ...measurement, photos, machine: stamp }) },
    { name: 'report.html', content: stamp },
    { name: 'deviations.csv', content: stamp },
    ...overlays.map((name) => ({ name, content: stamp })),
  ], { force: true, sourcePaths: [] });
  if (!outcome.ok) throw outcome.failure;
  process.stdout.write(n + '\\n');
}`;

/** Kills without warning; returns the last number whose writing the process had reported. */
function writeUntilKilled(out: string, first: number, delayMs: number): Promise<number> {
  return new Promise((resolve, reject) => {
    const args = [
      pathToFileURL(WRITER).href,
      out,
      JSON.stringify(makeMeasurement()),
      String(first),
    ];
    const child = spawn(
      process.execPath,
      ['--input-type=module', '-e', WRITE_FOR_EVER, '--', ...args],
      { stdio: ['ignore', 'pipe', 'pipe'] },
    );
    let last = first - 1;
    let trouble = '';
    child.stderr.on('data', (text) => {
      trouble += text;
    });
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      // The clock starts with the first set: before it there is nothing to interrupt.
      if (last < first) setTimeout(() => child.kill('SIGKILL'), delayMs);
      last = Number(text.trim().split('\n').at(-1));
    });
    child.on('close', () => (trouble === '' ? resolve(last) : reject(new Error(trouble))));
  });
}

describe('results whose writing is killed', () => {
  it('are one set, the old or the new one, once they are read again', async () => {
    const out = join(folder.path, 'killed');
    let first = 1;
    for (let kill = 0; kill < KILLS; kill += 1) {
      // Delays spread over the few milliseconds that one set takes.
      const reported = await writeUntilKilled(out, first, 3 + 1.7 * kill);
      const read = await runGantrue(['report', out, '--json', '--quiet', '--out', join(out, 'x')]);
      expect(read.code, read.stderr).toBe(0);
      const stamp = JSON.parse(read.stdout).machine as string;
      const written = Number.parseInt(stamp, 10);
      expect([reported, reported + 1]).toContain(written);
      const names = (await readdir(out)).filter((name) => name !== 'x');
      expect(names.filter((name) => name.startsWith('.'))).toEqual([]);
      expect(names).toHaveLength(3 + PICTURES);
      for (const name of names.filter((one) => one !== 'measurement.json')) {
        expect(Number.parseInt(await readFile(join(out, name), 'utf8'), 10), name).toBe(written);
      }
      await rm(join(out, 'x'), { recursive: true });
      first = written + 1;
    }
  });
});

describe('a reader that closes the pipe', () => {
  it('is no fault', async () => {
    const saved = join(folder.path, 'measurement.json');
    const measurement = makeMeasurement();
    measurement.proposals = propose(measurement, undefined, undefined);
    // More than a pipe holds, so that the writer meets the closed end.
    measurement.warnings = Array.from({ length: 20_000 }, (_, i) => `warning ${i}`);
    await writeFile(saved, JSON.stringify(measurement));
    const child = spawn(
      process.execPath,
      [
        join(ROOT, 'dist/bin/gantrue.js'),
        'report',
        saved,
        '--json',
        '--out',
        join(folder.path, 'r'),
      ],
      { stdio: ['ignore', 'pipe', 'pipe'] },
    );
    let stderr = '';
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
    });
    child.stdout.once('data', () => child.stdout.destroy());
    const code = await new Promise((resolve) => child.on('close', resolve));
    expect(stderr).toMatch(/^wrote .*\n$/);
    expect(code).toBe(0);
  });
});
