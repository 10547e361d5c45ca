/** Pictures that promise more than anybody has memory for, and how much memory the honest ones take. */

import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { crc32, deflateSync } from 'node:zlib';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { emptyFolder, type Ran, ROOT, run } from './run-gantrue.js';
import { SAMPLE_PROGRAM } from './sample-photos.js';

/** What the program takes before it has read any photo is below 170 MB, with room for another machine. */
const MOST_REFUSED_MB = 260;
/**
 * Seen: 553 MB, and once 771. The decoder holds the coefficients of a progressive JPEG as a whole, 12,000 × 9,000 ×
 * 1.5 × 2 bytes = 324 MB, until its last line is out; one byte a pixel is 108 MB, the finder's maps are 200. Where
 * the allocator has not yet given back the first when the finder begins, all of it adds up.
 */
const MOST_100_MP_MB = 1000;

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

const BOMBS: Readonly<Record<string, () => Promise<Buffer> | Buffer>> = {
  'a JPEG header of 65,535 × 65,535 pixels': () => jpegOf(65_535, 65_535),
  'a JPEG header of 65,500 × 65,500 pixels': () => jpegOf(65_500, 65_500),
  'a PNG of 65,535 × 65,535 pixels that is packed well': () => pngOf(65_535, 65_535),
  'a PNG header of 2,147,483,647 × 2,147,483,647 pixels': () => pngOf(2 ** 31 - 1, 2 ** 31 - 1),
  'a PNG of 2,000,000,000 × 1 pixels': () => pngOf(2e9, 1),
  'a GIF header of 65,535 × 65,535 pixels': () => gifOf(65_535, 65_535),
  'a BMP header of 65,535 × 65,535 pixels': () => bmpOf(65_535, 65_535),
  'a BMP header of 11,000 × 11,000 pixels with nothing behind it': () => bmpOf(11_000, 11_000),
  'a BMP header of −2,147,483,648 rows': () => bmpOf(1000, -(2 ** 31)),
  'a WebP header of 16,384 × 16,384 pixels': () => webpOf(16_384, 16_384),
  'a TIFF header of 65,535 × 65,535 pixels': () => tiffOf(65_535, 65_535),
  'a TIFF header of 4,294,967,295 × 4,294,967,295 pixels': () => tiffOf(2 ** 32 - 1, 2 ** 32 - 1),
};

describe('a picture that promises too much is refused before memory is taken:', () => {
  it.each(Object.keys(BOMBS))('%s', async (name) => {
    const file = join(folder.path, 'bomb.jpg');
    await writeFile(file, await BOMBS[name]!());
    const ran = await measureMemory([
      'measure',
      file,
      '--program',
      SAMPLE_PROGRAM,
      '--photos-only',
    ]);
    expect(ran.stderr).toMatch(/\[(PHOTO_TOO_LARGE|PHOTO_TRUNCATED)\]/);
    expect(ran.code).toBe(3);
    expect(ran.peakMb).toBeLessThan(MOST_REFUSED_MB);
  });
});

it('memory stays below the stated limit with 108 megapixels in a progressive JPEG, which is decoded as a whole', async () => {
  const file = join(folder.path, 'large.jpg');
  // Half grey, half white, so that it is not refused as blank.
  const half = {
    create: { width: 6000, height: 9000, channels: 3, background: '#ffffff' },
  } as const;
  await sharp({ create: { ...half.create, width: 12_000, background: '#808080' } })
    .composite([{ input: half, left: 0, top: 0 }])
    .jpeg({ progressive: true })
    .toFile(file);
  const ran = await measureMemory(['measure', file, '--program', SAMPLE_PROGRAM, '--photos-only']);
  expect(ran.stderr + ran.stdout).toMatch(/GRID_NOT_FOUND|PHOTO_BLURRED/);
  expect(ran.peakMb).toBeLessThan(MOST_100_MP_MB);
}, 90_000);

/** Runs the command and tells the most memory that its process held. */
async function measureMemory(args: readonly string[]): Promise<Ran & { peakMb: number }> {
  const note = join(folder.path, 'peak.txt');
  const report = `import { writeFileSync } from 'node:fs';
process.on('exit', () => writeFileSync(${JSON.stringify(note)}, String(process.resourceUsage().maxRSS)));`;
  const preload = `data:text/javascript,${encodeURIComponent(report)}`;
  const ran = await run(
    process.execPath,
    ['--import', preload, join(ROOT, 'dist/bin/gantrue.js'), ...args],
    ROOT,
  );
  return { ...ran, peakMb: Number(await readFile(note, 'utf8')) / 1024 };
}

/** ITU T.81, B.2.2: precision, height, width behind the mark of the frame. */
async function jpegOf(width: number, height: number): Promise<Buffer> {
  const grey = { create: { width: 400, height: 300, channels: 3, background: '#888888' } } as const;
  const bytes = await sharp(grey).jpeg().toBuffer();
  const frame = bytes.indexOf(Buffer.from([0xff, 0xc0]));
  bytes.writeUInt16BE(height, frame + 5);
  bytes.writeUInt16BE(width, frame + 7);
  return bytes;
}

/** PNG, third edition, 11.2: header, rows of zeros packed to a thousandth, end. */
function pngOf(width: number, height: number): Buffer {
  const chunk = (type: string, data: Buffer) => {
    const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
    const bytes = Buffer.alloc(body.length + 8);
    bytes.writeUInt32BE(data.length, 0);
    body.copy(bytes, 4);
    bytes.writeUInt32BE(crc32(body), body.length + 4);
    return bytes;
  };
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header[8] = 8;
  return Buffer.concat([
    Buffer.from('89504e470d0a1a0a', 'hex'),
    chunk('IHDR', header),
    chunk('IDAT', deflateSync(Buffer.alloc(20e6))),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

/** GIF89a, 18 and 20: screen, then one picture as large. */
function gifOf(width: number, height: number): Buffer {
  const size = Buffer.alloc(4);
  size.writeUInt16LE(width, 0);
  size.writeUInt16LE(height, 2);
  return Buffer.concat([
    Buffer.from('GIF89a', 'latin1'),
    size,
    Buffer.from([0x80, 0, 0, 0, 0, 0, 255, 255, 255, 0x2c, 0, 0, 0, 0]),
    size,
    Buffer.from([0, 2, 2, 0x4c, 0x01, 0, 0x3b]),
  ]);
}

function bmpOf(width: number, height: number): Buffer {
  const bytes = Buffer.alloc(1000);
  bytes.write('BM', 'latin1');
  bytes.writeUInt32LE(54, 10);
  bytes.writeUInt32LE(40, 14);
  bytes.writeUInt32LE(width, 18);
  bytes.writeInt32LE(height | 0, 22);
  bytes.writeUInt16LE(1, 26);
  bytes.writeUInt16LE(24, 28);
  return bytes;
}

/** RFC 9649, 2.7.1: the extended header's canvas, size minus one in 24 bits each. */
function webpOf(width: number, height: number): Buffer {
  const bytes = Buffer.alloc(400);
  bytes.write('RIFF', 0, 'latin1');
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write('WEBPVP8X', 8, 'latin1');
  bytes.writeUInt32LE(10, 16);
  bytes.writeUIntLE(width - 1, 24, 3);
  bytes.writeUIntLE(height - 1, 27, 3);
  // RFC 9649, 3.4: the picture itself, in the lossless kind, 14 bits for each size minus one.
  bytes.write('VP8L', 30, 'latin1');
  bytes.writeUInt32LE(300, 34);
  bytes[38] = 0x2f;
  bytes.writeUInt32LE((((width - 1) & 0x3fff) | (((height - 1) & 0x3fff) << 14)) >>> 0, 39);
  return bytes;
}

/** TIFF 6.0, section 3: one strip of grey that is said to hold everything. */
function tiffOf(width: number, height: number): Buffer {
  const tags: readonly (readonly [tag: number, value: number])[] = [
    [256, width],
    [257, height],
    [258, 8],
    [259, 1],
    [262, 1],
    [273, 200],
    [277, 1],
    [278, height],
    [279, 4_000_000_000],
  ];
  const bytes = Buffer.alloc(1000);
  bytes.write('II*\0', 'latin1');
  bytes.writeUInt32LE(8, 4);
  bytes.writeUInt16LE(tags.length, 8);
  for (const [i, [tag, value]] of tags.entries()) {
    bytes.writeUInt16LE(tag, 10 + 12 * i);
    bytes.writeUInt16LE(4, 12 + 12 * i);
    bytes.writeUInt32LE(1, 14 + 12 * i);
    bytes.writeUInt32LE(value, 18 + 12 * i);
  }
  return bytes;
}
