/** Names and notes by which somebody could act on the terminal, the report, a spreadsheet or other files. */

import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM, samplePhoto } from './sample-photos.js';

/** All but tabs and ends of lines that moves the cursor or changes the order of letters. */
const ACTS =
  /\r(?!\n)|[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]/;
/** Colour, title, order of letters, end of line, markup, formula, quotes. */
const EVIL =
  '\u001b[31m\u001b]0;own\u0007\u009b2J\u202e\n<img src=x onerror=alert(1)> "a" \'b\' 😀';
const PHOTO = `-=1+1 ${EVIL}.jpg`;
const MACHINE = `=HYPERLINK("x") ${EVIL}</script><script>alert(2)</script>`;

let folder: Awaited<ReturnType<typeof emptyFolder>>;
let measured: Ran;
const at = (...names: string[]) => join(folder.path, ...names);

beforeAll(async () => {
  folder = await emptyFolder();
  await mkdir(at('photos'));
  await sharp(await readFile(samplePhoto(1)))
    .resize(1600)
    .withExif({ IFD0: { Make: `Evil ${EVIL}`, Model: '<script>alert(3)</script>\u001b[2J' } })
    .jpeg({ quality: 92 })
    .toFile(at('photos', PHOTO));
  await writeFile(at('photos', `--force ${EVIL}.png`), 'no picture');
  const program = await readFile(SAMPLE_PROGRAM, 'utf8');
  await writeFile(at(`-p ${EVIL}.ngc`), `(\u009b2J\u202e <script>alert 4</script>)\n${program}`);
  const machine = await readFile(join(SAMPLE_FOLDER, 'machine.yaml'), 'utf8');
  await writeFile(
    at('machine.yaml'),
    machine
      .replace(/^name:.*/m, `name: ${JSON.stringify(MACHINE)}`)
      .replace(
        /settings:[\s\S]*/,
        `settings: ${JSON.stringify('steps \u001b[2J\u202e {{x.stepsPerMm}}')}\n`,
      ),
  );
  await writeFile(at('evidence.yaml'), `notes: ${JSON.stringify(`@SUM(1) ${EVIL}`)}\n`);
  measured = await measure();
}, 90_000);
afterAll(() => folder.remove());

function measure(...more: string[]): Promise<Ran> {
  return runGantrue(
    [
      ...['measure', 'photos', '--program', at(`-p ${EVIL}.ngc`), '--machine', 'machine.yaml'],
      ...['--evidence', 'evidence.yaml', '--out', 'out', '--log', '--history', 'h.db', ...more],
    ],
    folder.path,
  );
}

function expectTame(ran: Ran, code = 0): void {
  expect(ran.code, ran.stderr).toBe(code);
  expect(ran.stdout).not.toMatch(ACTS);
  expect(ran.stderr).not.toMatch(ACTS);
}

describe('hostile names', () => {
  it('do not act on the terminal where a measurement is shown', () => {
    expectTame(measured);
    expect(measured.stdout).toContain('HYPERLINK');
    expect(measured.stdout).toContain('1 of 2 photos used');
  });

  it('become names of files that are plain, inside the folder of results', async () => {
    const names = await readdir(at('out'));
    expect(names).toHaveLength(4);
    for (const name of names)
      expect(name).toMatch(/^[^\u0000-\u001f\u007f-\u009f\u202e<>:"/\\|?*]+$/);
    const around = (await readdir(folder.path)).filter((name) => !/-(?:wal|shm)$/.test(name));
    expect(around.sort()).toEqual(
      ['h.db', `-p ${EVIL}.ngc`, 'evidence.yaml', 'machine.yaml', 'out', 'photos'].sort(),
    );
  });

  it('are replaced with --force as other results are', async () => {
    const again = await measure('--force');
    // The history knows it: nothing else is wrong.
    expect(again.stderr).not.toContain('OUTPUT_EXISTS');
    expectTame(again, again.stderr.includes('ENTRY_KNOWN') ? 2 : 0);
  }, 60_000);

  it('are text in the report, never markup', async () => {
    const html = await readFile(at('out', 'report.html'), 'utf8');
    expect(html).toContain('&lt;img src=x onerror=alert(1)&gt;');
    expect(html).not.toMatch(/<img src=x|<script>alert|onerror=alert\(1\)>/);
    expect(html).not.toMatch(/[\u0000-\u0008\u000b\u000c\u000e-\u001f]/);
  });

  it('are the same in JSON, where they are escaped', async () => {
    const shown = await runGantrue(['report', 'out', '--json', '--out', 'again'], folder.path);
    expectTame(shown);
    expect(JSON.parse(shown.stdout).machine).toBe(MACHINE);
    const saved = JSON.parse(await readFile(at('out', 'measurement.json'), 'utf8'));
    expect(saved.photos.map(({ file }: { file: string }) => file)).toContain(PHOTO);
  });

  it('do not act where the history, trends, proposals and comparisons are shown', async () => {
    for (const args of [
      ['log', 'list', '--history', 'h.db'],
      ['log', 'show', '1', '--history', 'h.db'],
      ['drift', '--history', 'h.db'],
      ['propose', 'out', '--machine', 'machine.yaml'],
      ['compare', 'out', 'out'],
      ['log', 'event', EVIL, '--machine-name', MACHINE, '--history', 'h.db'],
      ['log', 'export', '--history', 'h.db'],
    ]) {
      const ran = await runGantrue(args, folder.path);
      expect([0, 2, 3], ran.stderr).toContain(ran.code);
      expectTame(ran, ran.code!);
    }
  }, 60_000);

  it('are no formula in tables', async () => {
    const csv = await runGantrue(
      ['log', 'export', '--format', 'csv', '--history', 'h.db'],
      folder.path,
    );
    expectTame(csv);
    for (const path of [at('out', 'deviations.csv')]) {
      expect(await readFile(path, 'utf8')).not.toMatch(/(?:^|[,\n])"?[=@\t\r]/);
    }
    expect(csv.stdout).not.toMatch(/(?:^|[,\n])"?[=@\t]/);
    expect(csv.stdout).toContain(`"'=HYPERLINK(""x"")`);
  });

  it('of files that are not there, or none of ours, are shown tame', async () => {
    for (const args of [
      ['measure', `absent ${EVIL}.jpg`, '--program', SAMPLE_PROGRAM],
      ['measure', 'photos', '--program', `absent ${EVIL}`],
      ['report', `absent ${EVIL}`],
      ['plan', '--machine', `absent ${EVIL}`],
      ['log', 'import', `absent ${EVIL}`, '--history', 'h.db'],
      ['log', 'list', '--history', `absent ${EVIL}`],
      [`verb ${EVIL}`],
      ['plan', `--option${EVIL}`],
      ['plan', '--travel', EVIL],
    ]) {
      const ran = await runGantrue(args, folder.path);
      expect([2, 3], ran.stderr).toContain(ran.code);
      expectTame(ran, ran.code!);
      expect(ran.stderr).toMatch(/\[[A-Z_]+\]/);
    }
  }, 60_000);

  it('in a saved measurement do not lead out of the folder', async () => {
    const saved = JSON.parse(await readFile(at('out', 'measurement.json'), 'utf8'));
    await sharp({ create: { width: 300, height: 300, channels: 3, background: '#123456' } })
      .jpeg()
      .toFile(at('secret.jpg'));
    for (const overlay of ['../secret.jpg', at('secret.jpg'), '..', '']) {
      const place = at('led');
      await mkdir(place, { recursive: true });
      const photos = saved.photos.map((photo: object) => ({ ...photo, overlay }));
      await writeFile(join(place, 'measurement.json'), JSON.stringify({ ...saved, photos }));
      const ran = await runGantrue(['report', 'led', '--force'], folder.path);
      expectTame(ran);
      expect(await readFile(join(place, 'report.html'), 'utf8')).not.toContain('data:image/jpeg');
    }
    expect((await readdir(at('led'))).sort()).toEqual([
      'deviations.csv',
      'measurement.json',
      'report.html',
    ]);
  }, 60_000);
});
