import { mkdir, readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp, { type Sharp } from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type PhotoCheck, photoCheckSchema } from '../../shared/schemas/photo-check.js';
import { emptyFolder, type Ran, runGantrue } from './run-gantrue.js';
import { SAMPLE_PROGRAM, samplePhoto, writeSmallPhoto } from './sample-photos.js';

/** The sample's photos are taken at 0°, 90°, 180°, 270°, twice. */
const PHOTOS = [1, 2, 3, 4, 5, 6, 7, 8];

let folder: Awaited<ReturnType<typeof emptyFolder>>;

beforeAll(async () => {
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

function check(photos: readonly string[], ...more: string[]): Promise<Ran> {
  const args = ['measure', ...photos, '--program', SAMPLE_PROGRAM, '--photos-only', ...more];
  return runGantrue(args, folder.path);
}

function parse(ran: Ran): PhotoCheck {
  return photoCheckSchema.parse(JSON.parse(ran.stdout));
}

async function small(number: number, name: string): Promise<string> {
  return writeSmallPhoto(number, join(folder.path, name));
}

describe('gantrue measure --photos-only of the sample set', () => {
  let ran: Ran;
  let result: PhotoCheck;

  beforeAll(async () => {
    await mkdir(join(folder.path, 'set'));
    for (const number of PHOTOS) await small(number, `set/photo-${number}.jpg`);
    ran = await check(['set'], '--json', '--check', '--out', 'results', '--rectified');
    result = parse(ran);
  }, 120_000);

  it('finds the set good and no photo poor, and exits with 0 under --check', () => {
    expect(ran.code).toBe(0);
    const states = result.photos.map(({ verdict }) => verdict?.state);
    expect(states.filter((state) => state !== 'good' && state !== 'usable')).toEqual([]);
    // Shrunk to a quarter of the pixels, the one with the faintest marks may no longer be good.
    expect(states.filter((state) => state === 'good').length).toBeGreaterThanOrEqual(6);
    expect(result.set).toEqual({
      state: 'good',
      usable: 8,
      quarterTurns: [2, 2, 2, 2],
      advice: [],
    });
  });

  it('writes nothing, and says which options it passed over', async () => {
    expect(ran.stderr).toBe('not used with --photos-only: --rectified, --out\n');
    expect(await readdir(folder.path)).toEqual(['set']);
  });

  it('estimates tilts as they were simulated', () => {
    // The sample's cameras are tilted by 1 to 3°; a principal point 15 px off is 0.3° of 3000 px.
    for (const { file, verdict } of result.photos) {
      const degrees = (verdict!.view!.tiltRad * 180) / Math.PI;
      expect(degrees, file).toBeGreaterThan(0.5);
      expect(degrees, file).toBeLessThan(3.5);
    }
  });
});

describe('gantrue measure --photos-only of photos that should be better', () => {
  let result: PhotoCheck;
  const verdictOf = (file: string) => result.photos.find((one) => one.file === file)!.verdict!;
  const aboutOf = (file: string) => verdictOf(file).advice.map(({ about }) => about);

  beforeAll(async () => {
    const path = (name: string) => join(folder.path, name);
    await mkdir(path('bad'));
    await writeSmallPhoto(1, path('bad/soft.jpg'), { blurPx: 4 });
    await writeSmallPhoto(1, path('bad/gone.jpg'), { blurPx: 12 });
    const plain = await readFile(await small(3, 'plain.jpg'));
    const save = (picture: Sharp, name: string) =>
      picture.keepExif().jpeg({ quality: 92 }).toFile(path(name));
    await save(sharp(plain).linear(2.2, 0), 'bad/bright.jpg');
    await save(sharp(plain).linear(0.06, 0), 'bad/dark.jpg');
    // Photo 1 is displayed as it is stored: 900 of its 4000 columns are gone.
    const cropped = sharp(await readFile(samplePhoto(1))).extract({
      left: 900,
      top: 0,
      width: 3100,
      height: 3000,
    });
    await save(cropped, 'bad/cropped.jpg');
    const lamp = `<svg xmlns="http://www.w3.org/2000/svg" width="2000" height="1500"><circle cx="1500" cy="420" r="260" fill="white"/></svg>`;
    const glaring = sharp(await readFile(await small(1, 'one.jpg'))).composite([
      { input: Buffer.from(lamp) },
    ]);
    await save(glaring, 'bad/glare.jpg');
    result = parse(await check(['bad'], '--json'));
  }, 180_000);

  it('tells the blurred one to be braced', () => {
    expect(verdictOf('soft.jpg').state).toBe('poor');
    expect(verdictOf('soft.jpg').advice[0]).toMatchObject({
      about: 'sharpness',
      text: expect.stringMatching(/brace|stand/),
    });
  });

  it('calls the one far out of focus unusable, for its blur', () => {
    expect(verdictOf('gone.jpg').state).toBe('unusable');
    expect(aboutOf('gone.jpg')).toEqual(['sharpness']);
  });

  it('tells the overexposed and the underexposed one', () => {
    expect(['poor', 'unusable']).toContain(verdictOf('bright.jpg').state);
    expect(aboutOf('bright.jpg')).toContain('exposure');
    expect(verdictOf('bright.jpg').exposure!.clippedBright).toBeGreaterThan(0.5);
    expect(['poor', 'unusable']).toContain(verdictOf('dark.jpg').state);
    expect(aboutOf('dark.jpg')).toContain('light');
  });

  it('names the side at which the grid is cut', () => {
    const { coverage } = verdictOf('cropped.jpg');
    expect(coverage?.cut).toEqual(['left']);
    expect(aboutOf('cropped.jpg')).toContain('coverage');
  });

  it('names the place of the glare', () => {
    const glare = verdictOf('glare.jpg').advice.find(({ about }) => about === 'exposure');
    expect(glare?.text).toMatch(/top right.*lamp/);
  });
});

describe('gantrue measure --photos-only of too little', () => {
  it('asks for the quarter turn where all photos are held the same way round', async () => {
    const photos = [await small(1, 'a.jpg'), await small(3, 'b.jpg'), await small(5, 'c.jpg')];
    const ran = await check(photos, '--check');
    expect(ran.code).toBe(4);
    expect(ran.stdout).toContain('the set is NOT ENOUGH');
    expect(ran.stdout.replace(/\s+/g, ' ')).toContain('turn the phone a quarter turn for half');
    expect(ran.stderr).toBe('');
  }, 60_000);

  it('exits with 3 where no photo can be used, and still says what ails each', async () => {
    const blurred = await writeSmallPhoto(1, join(folder.path, 'x.jpg'), { blurPx: 12 });
    const ran = await check([blurred, 'absent.jpg']);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toContain('[NO_USABLE_PHOTO]');
    expect(ran.stdout).toMatch(/x\.jpg +UNUSABLE +\[PHOTO_BLURRED\]/);
    expect(ran.stdout).toMatch(/absent\.jpg +UNUSABLE +\[FILE_MISSING\]/);
  }, 60_000);

  it('is a wrong call without a program', async () => {
    const ran = await runGantrue(['measure', 'a.jpg', '--photos-only'], folder.path);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toContain('expected --program, --grid or --lattice');
  });
});
