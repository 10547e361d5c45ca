/** Files as editors and spreadsheets of all kinds save them, given to the program itself. */

import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, runGantrue } from './run-gantrue.js';
import { SAMPLE_FOLDER, SAMPLE_PROGRAM } from './sample-photos.js';

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

const utf16be = (text: string) => Buffer.from(`\ufeff${text}`, 'utf16le').swap16();
const WAYS: Readonly<Record<string, (text: string) => Buffer>> = {
  'as they are': (text) => Buffer.from(text),
  'with line ends of CR and LF': (text) => Buffer.from(text.replaceAll('\n', '\r\n')),
  'with a byte order mark': (text) => Buffer.from(`\ufeff${text}`),
  'in UTF-16, low byte first': (text) => Buffer.from(`\ufeff${text}`, 'utf16le'),
  'in UTF-16, high byte first': utf16be,
  'in UTF-16 with CR and LF': (text) => utf16be(text.replaceAll('\n', '\r\n')),
  'in Windows-1252': (text) => Buffer.from(text, 'latin1'),
};

const nodes = [0, 120, 240, 360, 480, 600, 720].flatMap((x) =>
  [0, 120, 240, 360, 480].map((y) => [x, y, 1.001 * x + 0.0008 * y, 0.999 * y, 0.05].join(',')),
);
const POINTS = ['x,y,X,Y,u', ...nodes, ''].join('\n');

describe('program, machine file, evidence and points', () => {
  it.each(Object.keys(WAYS))('%s give the same measurement', async (way) => {
    const write = async (name: string, text: string) => {
      await writeFile(join(folder.path, name), WAYS[way]!(text));
      return name;
    };
    const program = await readFile(SAMPLE_PROGRAM, 'utf8');
    const machine = await readFile(join(SAMPLE_FOLDER, 'machine.yaml'), 'utf8');
    const ran = await runGantrue(
      [
        ...['measure', '--points', await write('points.csv', POINTS)],
        ...['--program', await write('grid.ngc', `(für das Brett)\n${program}`)],
        ...['--machine', await write('machine.yaml', machine.replace(/^name:.*/m, 'name: Fräse'))],
        ...[
          '--evidence',
          await write('evidence.yaml', 'temperature: 19.5\nnotes: straffer Gürtel\n'),
        ],
        ...['--out', 'out', '--force', '--json', '--quiet'],
      ],
      folder.path,
    );
    expect(ran.code, ran.stderr).toBe(0);
    const { machine: name, squareness, scale } = JSON.parse(ran.stdout);
    expect(name).toBe('Fräse');
    // The points lean by 0.8 mm/m and are 1 mm/m too long along X; weak priors pull by less than this.
    expect(Math.abs(squareness.value - 0.0008)).toBeLessThan(2e-5);
    expect(Math.abs(scale.x.value - 0.001)).toBeLessThan(2e-5);
  });
});
