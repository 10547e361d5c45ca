/** Simulated photos from the command line: turned boards, and calls that are wrong. */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, ROOT, runGantrue } from './run-gantrue.js';

const FOLDER = join(ROOT, 'samples/turned-board');
const PAIR = ['--program', join(FOLDER, 'first.ngc'), '--program', join(FOLDER, 'second.ngc')];

describe('gantrue simulate', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  beforeAll(async () => {
    folder = await emptyFolder();
  });
  afterAll(async () => folder.remove());

  it('draws one photo of a board that two programs marked, and tells how it was turned', async () => {
    const size = ['--photo-size', '800x600'];
    const call = ['simulate', ...PAIR, '--turn', '-88', ...size, '--squareness', '0.3'];
    const ran = await runGantrue([...call, '--out', 'turned', '--quiet'], folder.path);
    expect(ran.stderr).toBe('');
    expect(ran.code).toBe(0);
    const truth = JSON.parse(await readFile(join(folder.path, 'turned/truth.json'), 'utf8'));
    expect(truth.photos).toHaveLength(1);
    expect(truth.squareness).toBeCloseTo(0.3e-3, 9);
    // The board turned 88° to the right: seen from it the machine turned to the left.
    expect((truth.placements[1].rotation * 180) / Math.PI).toBeCloseTo(88, 6);
  });

  it.each([
    ['three programs', [...PAIR, '--program', 'x.ngc'], 'given 3 times'],
    [
      'a turn without a second program',
      [...PAIR.slice(0, 2), '--turn', '90'],
      '--turn is of a board',
    ],
    ['a tilt that is no range', ['--tilt', '9,3'], 'least and largest tilt'],
    ['a tilt of one number', ['--tilt', '9'], 'least and largest tilt'],
  ])('refuses %s', async (_, call, words) => {
    const ran = await runGantrue(['simulate', ...call], folder.path);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toContain(words);
  });
});

describe('gantrue measure --brief', () => {
  it('refuses what is no quantity, such as a photo named behind it', async () => {
    const ran = await runGantrue(['measure', '--brief', 'photo.jpg']);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toContain('photo.jpg is no quantity');
  });
});
