/**
 * Whatever EXIF data hold: they are read or passed over, soon; what is read has sane values.
 *
 * GANTRUE_HOSTILE=50000 tries that many from a new seed.
 */

import fc from 'fast-check';
import sharp from 'sharp';
import { beforeAll, expect, it } from 'vitest';
import { readExif } from '../../src/imaging/exif.js';
import { findPictureFormat } from '../../src/imaging/picture-format.js';
import { spoiledBytes } from '../cli/hostile-files.js';

const WANTED = Number(process.env.GANTRUE_HOSTILE ?? 0);
const DRAW =
  WANTED > 0 ? { seed: Date.now() % 2 ** 31, numRuns: WANTED } : { seed: 20_265, numRuns: 600 };
const LONGEST_MS = 2000;

let blocks: Buffer[];
beforeAll(async () => {
  const plain = sharp({ create: { width: 64, height: 48, channels: 3, background: '#777777' } });
  const tagged = plain.withExif({
    IFD0: { Make: 'Phone', Model: 'Main camera', Orientation: '6' },
    IFD2: {
      DateTimeOriginal: '2026:11:20 10:15:00',
      FocalLength: '5.4',
      FocalLengthIn35mmFilm: '26',
    },
  });
  const { exif } = await sharp(await tagged.clone().jpeg().toBuffer()).metadata();
  blocks = [exif!.subarray(6), await tagged.clone().tiff().toBuffer()];
});

it('spoiled EXIF data and TIFF files are read or passed over', async () => {
  let told = 0;
  await fc.assert(
    fc.asyncProperty(fc.nat(1), spoiledBytes, async (which, spoil) => {
      const bytes = spoil(blocks[which]!);
      const start = performance.now();
      const exif = await readExif(bytes);
      expect(performance.now() - start).toBeLessThan(LONGEST_MS);
      if (exif.make !== undefined) told += 1;
      expect([1, 2, 3, 4, 5, 6, 7, 8]).toContain(exif.orientation);
      for (const length of [exif.focalLengthMm, exif.focalLength35mm]) {
        expect(length === undefined || (Number.isFinite(length) && length > 0)).toBe(true);
      }
      findPictureFormat(bytes);
    }),
    DRAW,
  );
  // Else nothing but wrecks was tried.
  expect(told).toBeGreaterThan(DRAW.numRuns / 10);
}, 600_000);
