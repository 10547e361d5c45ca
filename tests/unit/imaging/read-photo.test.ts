import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import { Jimp } from 'jimp';
import sharp, { type Sharp } from 'sharp';
import { afterAll, describe, expect, test } from 'vitest';
import { readPhoto } from '../../../src/imaging/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const folder = mkdtempSync(join(tmpdir(), 'imaging-'));
afterAll(() => rmSync(folder, { recursive: true }));

const WIDTH = 640;
const HEIGHT = 400;

/** Grey that tells every corner apart: rises to the right, and four times as fast per row at the top. */
function levelAt(column: number, row: number): number {
  return Math.floor((column * 128) / WIDTH) + (row < HEIGHT / 4 ? 120 : 0);
}

const LEVELS = Buffer.from(
  Array.from({ length: WIDTH * HEIGHT }, (_, i) => levelAt(i % WIDTH, Math.floor(i / WIDTH))),
);

function picture(): Sharp {
  return sharp(LEVELS, { raw: { width: WIDTH, height: HEIGHT, channels: 1 } });
}

function save(name: string, bytes: Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
}

async function failureOf(name: string, bytes: Uint8Array) {
  const outcome = await readPhoto(save(name, bytes));
  if (outcome.ok) throw new Error('expected a failure');
  return outcome.failure;
}

function largestDifference(one: Uint8Array, other: Uint8Array): number {
  expect(one.length).toBe(other.length);
  return one.reduce((most, value, i) => Math.max(most, Math.abs(value - other[i]!)), 0);
}

describe('pixels', () => {
  test('a grey PNG is read level for level', async () => {
    const bytes = await picture().png().toBuffer();
    const photo = unwrap(await readPhoto(save('plain.png', bytes)));
    expect(photo).toMatchObject({
      name: 'plain.png',
      format: 'png',
      widthPx: WIDTH,
      heightPx: HEIGHT,
    });
    expect(photo.sha256).toBe(createHash('sha256').update(bytes).digest('hex'));
    expect(largestDifference(photo.grey.data, LEVELS)).toBe(0);
  });

  test('another decoder sees the same levels', async () => {
    for (const format of ['png', 'jpeg'] as const) {
      const bytes = await picture().toFormat(format).toBuffer();
      const photo = unwrap(await readPhoto(save(`other.${format}`, bytes)));
      const { bitmap } = await Jimp.fromBuffer(bytes);
      const red = Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) => bitmap.data[4 * i]!);
      // JPEG decoders may round their transform differently by a level or two.
      expect(largestDifference(photo.grey.data, red)).toBeLessThanOrEqual(format === 'png' ? 1 : 2);
    }
  });

  test('the orientation tag turns nothing', async () => {
    for (const orientation of [1, 3, 6, 8]) {
      const bytes = await picture().withMetadata({ orientation }).jpeg({ quality: 100 }).toBuffer();
      const photo = unwrap(await readPhoto(save(`turned-${orientation}.jpg`, bytes)));
      expect([photo.widthPx, photo.heightPx]).toEqual([WIDTH, HEIGHT]);
      expect(photo.exif.orientation).toBe(orientation);
      expect(photo.grey.data[5 * WIDTH + 600]).toBeCloseTo(levelAt(600, 5), -1);
      expect(photo.grey.data[395 * WIDTH + 20]).toBeCloseTo(levelAt(20, 395), -1);
    }
  });

  test.each(['webp', 'tiff', 'gif', 'avif'] as const)('%s is read', async (format) => {
    const bytes = await picture().toFormat(format, { quality: 95 }).toBuffer();
    const photo = unwrap(await readPhoto(save(`picture.${format}`, bytes)));
    expect(photo).toMatchObject({ format, widthPx: WIDTH, heightPx: HEIGHT });
    expect(Math.abs(photo.grey.data[5 * WIDTH + 600]! - levelAt(600, 5))).toBeLessThan(8);
  });

  test('BMP is read', async () => {
    const image = new Jimp({ width: WIDTH, height: HEIGHT, color: 0xffffffff });
    LEVELS.forEach((level, i) => {
      image.bitmap.data.fill(level, 4 * i, 4 * i + 3);
    });
    const photo = unwrap(await readPhoto(save('picture.bmp', await image.getBuffer('image/bmp'))));
    expect(photo).toMatchObject({ format: 'bmp', widthPx: WIDTH, heightPx: HEIGHT });
    expect(largestDifference(photo.grey.data, LEVELS)).toBeLessThanOrEqual(1);
  });

  test('16-bit levels are scaled to 8', async () => {
    const deep = Uint16Array.from(LEVELS, (level) => level * 257);
    const bytes = await sharp(deep, { raw: { width: WIDTH, height: HEIGHT, channels: 1 } })
      .toColourspace('grey16')
      .png()
      .toBuffer();
    expect((await sharp(bytes).metadata()).depth).toBe('ushort');
    const photo = unwrap(await readPhoto(save('deep.png', bytes)));
    expect(largestDifference(photo.grey.data, LEVELS)).toBeLessThanOrEqual(1);
  });

  test('transparent places are white', async () => {
    const pixels = Buffer.from([...LEVELS].flatMap((l, i) => [l, l, l, i % WIDTH < 100 ? 0 : 255]));
    const bytes = await sharp(pixels, { raw: { width: WIDTH, height: HEIGHT, channels: 4 } })
      .png()
      .toBuffer();
    const { grey } = unwrap(await readPhoto(save('clear.png', bytes)));
    expect(grey.data[50]).toBe(255);
    expect(grey.data[WIDTH - 1]).toBe(levelAt(WIDTH - 1, 0));
  });
});

describe('EXIF', () => {
  const exif = {
    IFD0: { Make: 'Maker ', Model: 'M 1' },
    IFD2: {
      FocalLength: '5400/1000',
      FocalLengthIn35mmFilm: '26',
      DateTimeOriginal: '2026:11:20 10:15:00',
    },
  };
  const expected = {
    make: 'Maker',
    model: 'M 1',
    focalLengthMm: 5.4,
    focalLength35mm: 26,
    takenAt: '2026:11:20 10:15:00',
  };

  test.each(['jpeg', 'webp', 'png'] as const)(
    'camera and lens are read from %s',
    async (format) => {
      const bytes = await picture().withExif(exif).toFormat(format).toBuffer();
      expect(unwrap(await readPhoto(save(`exif.${format}`, bytes))).exif).toMatchObject(expected);
    },
  );

  test('a picture without EXIF is upright and has no lens', async () => {
    const bytes = await picture().jpeg().toBuffer();
    expect(unwrap(await readPhoto(save('bare.jpg', bytes))).exif).toEqual({ orientation: 1 });
  });

  test('damaged EXIF does not spoil the photo', async () => {
    const bytes = await picture().withExif(exif).jpeg().toBuffer();
    const at = bytes.indexOf('Exif\0\0') + 6;
    bytes.fill(0xee, at + 8, at + 40);
    expect(unwrap(await readPhoto(save('bad-exif.jpg', bytes))).exif.orientation).toBe(1);
  });
});

describe('what is refused', () => {
  test('a file that is not there, and a folder', async () => {
    expect(await readPhoto(join(folder, 'none.jpg'))).toMatchObject({
      failure: { code: 'FILE_MISSING', where: join(folder, 'none.jpg') },
    });
    expect(await readPhoto(folder)).toMatchObject({ failure: { code: 'FILE_UNREADABLE' } });
  });

  test.each([
    ['empty.jpg', ''],
    ['text.jpg', 'G21 G0 X0 Y0\n'.repeat(100)],
    ['drawing.png', '<svg xmlns="http://www.w3.org/2000/svg" width="900" height="900"/>'],
    ['paper.jpg', '%PDF-1.7\n%....'],
    ['film.jpg', '\0\0\0\x18ftypisom\0\0\0\0isommp42'],
  ])('%s is no photo', async (name, text) => {
    const failure = await failureOf(name, Buffer.from(text, 'latin1'));
    expect(failure.code).toBe('NOT_A_PHOTO');
    expect(failure.message).toMatch(/expected .*JPEG/);
  });

  test('HEIC is told from AVIF, and the way out is named', async () => {
    for (const brands of ['heic\0\0\0\0mif1heic', 'mif1\0\0\0\0mif1heix', 'msf1\0\0\0\0msf1hevc']) {
      const failure = await failureOf(
        'phone.heic',
        Buffer.from(`\0\0\0\x18ftyp${brands}`, 'latin1'),
      );
      expect(failure.code).toBe('HEIC_UNSUPPORTED');
      expect(failure.hint).toMatch(/most compatible format/);
    }
  });

  test.each(['jpeg', 'png', 'webp', 'tiff'] as const)('a %s file cut short', async (format) => {
    const bytes = await picture().toFormat(format).toBuffer();
    for (const share of [0.3, 0.7]) {
      const cut = bytes.subarray(0, Math.floor(bytes.length * share));
      expect((await failureOf(`cut.${format}`, cut)).code).toBe('PHOTO_TRUNCATED');
    }
  });

  test('a JPEG whose end marker is missing', async () => {
    const bytes = await picture().jpeg().toBuffer();
    expect((await failureOf('no-end.jpg', bytes.subarray(0, -2))).code).toBe('PHOTO_TRUNCATED');
  });

  test('a JPEG with other data behind its end is read', async () => {
    const bytes = Buffer.concat([await picture().jpeg().toBuffer(), Buffer.alloc(5000, 7)]);
    expect(unwrap(await readPhoto(save('tail.jpg', bytes))).widthPx).toBe(WIDTH);
  });

  test('a header that announces too many pixels is refused before decoding', async () => {
    const bytes = await picture().jpeg().toBuffer();
    // Frame header: FF C0, length, precision, then height and width in two bytes each.
    const frame = bytes.indexOf(Buffer.from([0xff, 0xc0, 0x00]));
    bytes.writeUInt16BE(20_000, frame + 5);
    bytes.writeUInt16BE(30_000, frame + 7);
    expect(await failureOf('bomb.jpg', bytes)).toMatchObject({
      code: 'PHOTO_TOO_LARGE',
      figures: { widthPx: 30_000, heightPx: 20_000 },
    });
    // More than the decoder itself would take.
    bytes.fill(0xff, frame + 5, frame + 9);
    expect((await failureOf('bomb.jpg', bytes)).code).toBe('PHOTO_TOO_LARGE');

    const chunk = await picture().png().toBuffer();
    // Width and height at 16, checksum of type and data (bytes 12 to 28) at 29.
    chunk.writeUInt32BE(65_535, 16);
    chunk.writeUInt32BE(65_535, 20);
    chunk.writeUInt32BE(crc32(chunk.subarray(12, 29)), 29);
    expect((await failureOf('bomb.png', chunk)).code).toBe('PHOTO_TOO_LARGE');

    const bitmap = Buffer.alloc(60);
    bitmap.write('BM');
    bitmap.writeUInt32LE(40, 14);
    bitmap.writeInt32LE(100_000, 18);
    bitmap.writeInt32LE(-100_000, 22);
    expect((await failureOf('bomb.bmp', bitmap)).code).toBe('PHOTO_TOO_LARGE');
  });

  test('a preview is too small', async () => {
    const bytes = await picture().resize(320).jpeg().toBuffer();
    expect((await failureOf('preview.jpg', bytes)).code).toBe('PHOTO_TOO_SMALL');
  });

  test('a blank picture, but not one with thin lines', async () => {
    const paper = sharp({
      create: { width: 1000, height: 1000, channels: 3, background: '#e0e0e0' },
    });
    expect((await failureOf('blank.png', await paper.png().toBuffer())).code).toBe('PHOTO_BLANK');
    const line = {
      create: { width: 2, height: 1000, channels: 3, background: '#202020' },
    } as const;
    const lined = paper.composite([{ input: line, left: 300, top: 0 }]);
    expect((await readPhoto(save('lined.png', await lined.png().toBuffer()))).ok).toBe(true);
  });
});
