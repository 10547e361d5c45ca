/** The turned board's answer does not depend on what software did to the photo: the sample's first photo, edited. */
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import truth from '../../samples/turned-board/truth.json' with { type: 'json' };
import { surveyPair } from './turned-pair.js';

const FOLDER = join(import.meta.dirname, '../../samples/turned-board');
const QUALITY = 95;

interface Answer {
  readonly squareness: number;
  readonly ratio: number;
  readonly U: readonly [number, number];
}

let folder = '';
let original: Answer;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gantrue-edited-'));
  original = await answerOf(join(FOLDER, 'photo-1.jpg'));
}, 300_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

async function answerOf(photo: string, programs = ['first.ngc', 'second.ngc']): Promise<Answer> {
  const { measurement } = await surveyPair(
    photo,
    programs.map((name) => join(FOLDER, name)),
  );
  const { squareness, scale } = measurement;
  if (squareness.state !== 'measured') throw new Error(squareness.reason);
  if (scale.ratio.state !== 'measured') throw new Error(scale.ratio.reason);
  return {
    squareness: squareness.value,
    ratio: scale.ratio.value,
    U: [squareness.U, scale.ratio.U],
  };
}

/** A projective map that widens the far side of the picture by a few per cent, as an editor's keystone tool does. */
async function keystone(file: string): Promise<Buffer> {
  const { cv } = createRequire(import.meta.url)('opencv-wasm');
  const { data, info } = await sharp(file).raw().toBuffer({ resolveWithObject: true });
  const { width, height } = info;
  const from = new cv.Mat(height, width, cv.CV_8UC3);
  from.data.set(data);
  const corners = [0, 0, width, 0, width, height, 0, height];
  const moved = [0.03 * width, 0.01 * height, 0.98 * width, 0, width, height, 0, 0.99 * height];
  const [a, b] = [corners, moved].map((list) => cv.matFromArray(4, 1, cv.CV_32FC2, list));
  const map = cv.getPerspectiveTransform(a, b);
  const to = new cv.Mat();
  cv.warpPerspective(from, to, map, new cv.Size(width, height), cv.INTER_CUBIC);
  const jpeg = await sharp(Buffer.from(to.data), { raw: { width, height, channels: 3 } })
    .jpeg({ quality: QUALITY })
    .toBuffer();
  for (const mat of [from, a, b, map, to]) mat.delete();
  return jpeg;
}

const picture = () => sharp(join(FOLDER, 'photo-1.jpg'));
const EDITS: Record<string, () => Promise<Buffer>> = {
  'saved without EXIF': () => picture().jpeg({ quality: QUALITY }).toBuffer(),
  cropped: async () => {
    const { width, height } = await picture().metadata();
    return picture()
      .extract({
        left: Math.round(0.08 * width),
        top: Math.round(0.02 * height),
        width: Math.round(0.86 * width),
        height: Math.round(0.96 * height),
      })
      .jpeg({ quality: QUALITY })
      .toBuffer();
  },
  'half the size': async () => {
    const { width } = await picture().metadata();
    return picture()
      .resize(Math.round(width / 2))
      .jpeg({ quality: QUALITY })
      .toBuffer();
  },
  'turned by a quarter': () => picture().rotate(90).jpeg({ quality: QUALITY }).toBuffer(),
  'turned by 7°': () => picture().rotate(7).jpeg({ quality: QUALITY }).toBuffer(),
  'keystone-corrected': () => keystone(join(FOLDER, 'photo-1.jpg')),
};

/**
 * A quarter where pixels stay what they were, or nearly so; half of U where each new one is mixed from several old ones: that
 * changes the noise as well.
 */
const SHARE: Readonly<Record<string, number>> = { 'half the size': 0.5, 'keystone-corrected': 0.5 };

describe('the first photo of the turned board', () => {
  it('tells the truth within U', () => {
    expect(Math.abs(original.squareness - truth.squareness)).toBeLessThan(original.U[0]);
    expect(Math.abs(original.ratio - truth.scale.ratio)).toBeLessThan(original.U[1]);
  });

  it.each(Object.entries(EDITS))(
    'says the same within the stated share of U when %s',
    async (name, edit) => {
      const file = join(folder, `${name.replace(/\W/g, '-')}.jpg`);
      await writeFile(file, await edit());
      const { squareness, ratio } = await answerOf(file);
      const share = SHARE[name] ?? 0.25;
      expect(Math.abs(squareness - original.squareness)).toBeLessThan(share * original.U[0]);
      expect(Math.abs(ratio - original.ratio)).toBeLessThan(share * original.U[1]);
    },
  );

  it('says the same when the programs are named the other way round', async () => {
    const { squareness, ratio } = await answerOf(join(FOLDER, 'photo-1.jpg'), [
      'second.ngc',
      'first.ngc',
    ]);
    expect(Math.abs(squareness - original.squareness)).toBeLessThan(original.U[0] / 4);
    expect(Math.abs(ratio - original.ratio)).toBeLessThan(original.U[1] / 4);
  });
});
