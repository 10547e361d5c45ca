import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { measurementSchema } from '../../../shared/schemas/measurement.js';
import { unwrap } from '../../../src/quantity/index.js';
import {
  readMeasurement,
  rectifyPhoto,
  type Survey,
  type SurveyedPhoto,
  writeResults,
} from '../../../src/survey/index.js';
import { makeMeasurement } from '../report/make-measurement.js';

const WIDTH = 600;
const HEIGHT = 400;
/** Red at board X 10 to 30 mm, Y 40 to 60 mm; grey elsewhere. Board (0, 0) is seen at (100, 350). */
const MM_PER_PX = 0.5;
const seenAt = (x: number, y: number) =>
  [100 + x / MM_PER_PX, 350 - y / MM_PER_PX] as readonly [number, number];

let base = '';
let photo = '';
beforeAll(async () => {
  base = await mkdtemp(join(tmpdir(), 'gantrue-results-'));
  photo = join(base, 'bed.png');
  const pixels = new Uint8Array(WIDTH * HEIGHT * 3).fill(90);
  const [left, lower] = seenAt(10, 40);
  const [right, upper] = seenAt(30, 60);
  for (let v = upper; v < lower; v += 1) {
    for (let u = left; u < right; u += 1) pixels.set([200, 0, 0], 3 * (v * WIDTH + u));
  }
  await sharp(pixels, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
    .png()
    .toFile(photo);
});
afterAll(async () => {
  await rm(base, { recursive: true, force: true });
});

function surveyed(path: string, index: number): SurveyedPhoto {
  return {
    path,
    index,
    orientation: 1,
    overlay: {
      widthPx: WIDTH,
      heightPx: HEIGHT,
      lines: [
        {
          axis: 'x',
          placement: 0,
          positionMm: 0,
          fromMm: 0,
          toMm: 100,
          points: [seenAt(0, 0), seenAt(0, 100)],
        },
      ],
      marks: [],
      corners: [],
      caption: 'bed.png',
    },
    imageFromBoard: seenAt,
    boardExtentMm: { x: [-20, 120], y: [-10, 90] },
  };
}

function makeSurvey(): Survey {
  const measurement = makeMeasurement();
  measurement.photos = [
    { file: 'bed.png', used: true },
    { file: 'other.jpg', used: false, code: 'PHOTO_BLURRED', reason: 'blurred' },
    { file: 'bed.png', used: true },
  ];
  return { measurement, photos: [surveyed(photo, 0), surveyed(photo, 2)] };
}

describe('the files of a survey', () => {
  it('are the measurement, the report, the table and a picture for each used photo', async () => {
    const out = join(base, 'out');
    const { files, measurement } = unwrap(
      await writeResults(makeSurvey(), out, {
        force: false,
        rectified: true,
        sourcePaths: [photo],
      }),
    );
    const names = [
      'deviations.csv',
      'measurement.json',
      'overlay-bed-2.jpg',
      'overlay-bed.jpg',
      'rectified-bed-0.25mm-per-px.jpg',
      'rectified-bed-2-0.25mm-per-px.jpg',
      'report.html',
    ];
    expect((await readdir(out)).sort()).toEqual(names);
    expect([...files].sort()).toEqual(names.map((name) => join(out, name)));
    const saved = JSON.parse(await readFile(join(out, 'measurement.json'), 'utf8'));
    expect(measurementSchema.parse(saved)).toEqual(JSON.parse(JSON.stringify(measurement)));
    expect(saved.photos.map((one: { overlay?: string }) => one.overlay)).toEqual([
      'overlay-bed.jpg',
      undefined,
      'overlay-bed-2.jpg',
    ]);
    expect(unwrap(await readMeasurement(out)).measurement.photos[0]?.rectified).toBe(names[4]);
    const picture = await sharp(join(out, 'overlay-bed.jpg')).metadata();
    expect([picture.format, picture.width, picture.height]).toEqual(['jpeg', WIDTH, HEIGHT]);
    expect(await readFile(join(out, 'report.html'), 'utf8')).toMatch(
      /data:image\/jpeg;base64,\/9j/,
    );
  });

  it('are not written where a photo has gone meanwhile', async () => {
    const lost = join(base, 'lost.png');
    await writeFile(lost, await readFile(photo));
    const survey = { ...makeSurvey(), photos: [surveyed(lost, 0)] };
    await rm(lost);
    const out = join(base, 'none');
    const outcome = await writeResults(survey, out, {
      force: false,
      rectified: false,
      sourcePaths: [],
    });
    expect(outcome.ok ? '' : outcome.failure.code).toBe('FILE_MISSING');
    expect(await readdir(base)).not.toContain('none');
  });
});

describe('a photo true to scale', () => {
  it('shows a place on the board where its scale says', async () => {
    const { jpeg, widthPx, heightPx, mmPerPx, originPx } = unwrap(
      await rectifyPhoto(photo, surveyed(photo, 0)),
    );
    // 140 mm × 100 mm at 0.25 mm
    expect([widthPx, heightPx, mmPerPx]).toEqual([560, 400, 0.25]);
    // 20 mm from the left and 90 mm from the top, in pixels from the centre of the first
    expect(originPx).toEqual([79.5, 359.5]);
    const { data, info } = await sharp(jpeg).raw().toBuffer({ resolveWithObject: true });
    expect(info.height).toBeGreaterThan(heightPx);
    const redAt = (x: number, y: number) => {
      const at =
        3 * (Math.round(originPx[1] - y / 0.25) * info.width + Math.round(originPx[0] + x / 0.25));
      return data[at]! - data[at + 1]! > 90;
    };
    // Within 1.5 mm of each edge, on both sides of it.
    for (const y of [41.5, 58.5]) for (const x of [11.5, 28.5]) expect(redAt(x, y)).toBe(true);
    for (const x of [8.5, 31.5]) expect(redAt(x, 50)).toBe(false);
    for (const y of [38.5, 61.5]) expect(redAt(20, y)).toBe(false);
  });

  it('carries its resolution, so that it prints true', async () => {
    const { jpeg } = unwrap(await rectifyPhoto(photo, surveyed(photo, 0), 0.5));
    // 25.4 / 0.5 pixels per inch
    expect((await sharp(jpeg).metadata()).density).toBe(51);
  });

  it('gets larger pixels where it would be larger than 40 megapixels', async () => {
    const wide = {
      imageFromBoard: () => [-1, -1] as const,
      boardExtentMm: { x: [0, 3000], y: [0, 1500] } as const,
    };
    // 4.5 m² at 40 megapixels: √(4.5e6 / 40e6) = 0.335, next step of 0.05: 0.35 mm
    const { mmPerPx, widthPx } = unwrap(await rectifyPhoto(photo, wide));
    expect(mmPerPx).toBe(0.35);
    expect(widthPx).toBe(8571);
  });

  it('is refused where nothing was adjusted', async () => {
    const { imageFromBoard: _, ...open } = surveyed(photo, 0);
    const outcome = await rectifyPhoto(photo, open);
    expect(outcome.ok ? '' : outcome.failure.code).toBe('NO_CONVERGENCE');
  });
});
