/** Picture bytes → a decoder that is ready to run, with the size known and found acceptable. */

import type { Metadata, Sharp } from 'sharp';
import { failed, type Outcome, success } from '../quantity/index.js';
import { loadSharp } from './load-sharp.js';
import { findPictureFormat, type PictureFormat } from './picture-format.js';
import { readBytes } from './read-bytes.js';

export interface OpenPicture {
  readonly format: PictureFormat;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Undefined for BMP. */
  readonly metadata: Metadata | undefined;
  /** Pixels as stored: not turned by the EXIF orientation. May fail when it runs. */
  readonly decode: () => Promise<Sharp>;
}

/** Main lenses of phones reach 108 megapixels; anything above is stitched, scaled up or a trap. */
export const MOST_PIXELS = 130e6;

/** Below this a grid of 10 × 10 lines has no 50 pixels from line to line. */
export const LEAST_PIXELS = 0.2e6;

const EXPECTED = 'expected a photo as JPEG, PNG, WebP, TIFF, GIF, AVIF or BMP';

/**
 * Opens a picture. The size is read from the header, before anything is decoded.
 *
 * Fails: NOT_A_PHOTO; HEIC_UNSUPPORTED; PHOTO_TRUNCATED; PHOTO_TOO_LARGE; PHOTO_TOO_SMALL.
 */
export async function openPicture(bytes: Buffer, where: string): Promise<Outcome<OpenPicture>> {
  const format = findPictureFormat(bytes);
  if (format === undefined) return refuseFormat(bytes, where);
  if (format === 'heic') return refuseHeic(where);
  const opened =
    format === 'bmp' ? openBmp(bytes, where) : await openWithSharp(bytes, format, where);
  if (!opened.ok) return opened;
  return checkSize(opened.value, where);
}

/** Pixels of a picture by its header; 0 where it is none that can be read. */
export async function pixelCount(path: string): Promise<number> {
  const bytes = await readBytes(path);
  const opened = bytes.ok ? await openPicture(bytes.value, path) : bytes;
  return opened.ok ? opened.value.widthPx * opened.value.heightPx : 0;
}

/** The failure of a file that began well and could not be decoded. */
export function describeDamage(where: string, cause: unknown): ReturnType<typeof failed> {
  const reason = cause instanceof Error ? cause.message.split('\n')[0] : String(cause);
  return failed('PHOTO_TRUNCATED', `the picture is cut short or damaged (${reason})`, {
    where,
    hint: 'copy the file from the phone again',
    cause,
  });
}

function refuseFormat(bytes: Buffer, where: string): Outcome<OpenPicture> {
  const start = bytes.toString('latin1', 0, 512).trimStart();
  const what =
    bytes.length === 0
      ? 'the file is empty'
      : start.startsWith('%PDF')
        ? 'the file is a PDF document'
        : /^(<\?xml|<svg)/i.test(start)
          ? 'the file is a drawing or markup'
          : 'the file is no picture';
  return failed('NOT_A_PHOTO', `${what}; ${EXPECTED}`, {
    where,
    hint: 'give the file as the camera wrote it; programs are named with their own option',
  });
}

function refuseHeic(where: string): Outcome<OpenPicture> {
  return failed('HEIC_UNSUPPORTED', `HEIC pictures are not read; ${EXPECTED}`, {
    where,
    hint: 'in the phone’s camera settings choose the most compatible format instead of the high-efficiency one, or export the photo as JPEG at full size',
  });
}

async function openWithSharp(
  bytes: Buffer,
  format: PictureFormat,
  where: string,
): Promise<Outcome<OpenPicture>> {
  let metadata: Metadata;
  const sharp = await loadSharp();
  try {
    // The pixel limit of our own comes later, with a failure that says what to do.
    metadata = await sharp(bytes, { limitInputPixels: false }).metadata();
  } catch (cause) {
    return isTooLarge(cause) ? refuseLarge('the picture', where, {}) : describeDamage(where, cause);
  }
  return success({
    format,
    widthPx: metadata.width,
    heightPx: metadata.height,
    metadata,
    decode: async () =>
      sharp(bytes, { failOn: 'truncated', limitInputPixels: MOST_PIXELS, autoOrient: false }),
  });
}

/** Decoders have limits of their own: JPEG's refuses a side above 65500 pixels at the header. */
function isTooLarge(cause: unknown): boolean {
  return cause instanceof Error && /maximum supported|exceeds|too large/i.test(cause.message);
}

function refuseLarge(
  what: string,
  where: string,
  figures: Readonly<Record<string, number>>,
): ReturnType<typeof failed> {
  const most = MOST_PIXELS / 1e6;
  return failed('PHOTO_TOO_LARGE', `${what} is too large; at most ${most} megapixels are read`, {
    where,
    figures,
    hint: 'photograph with the main lens at its normal resolution',
  });
}

/** The header of a BMP file: 16-bit sizes in the oldest kind, else 32-bit, height below 0 for top-down. */
function openBmp(bytes: Buffer, where: string): Outcome<OpenPicture> {
  const isOldest = bytes.readUInt32LE(14) === 12;
  const widthPx = isOldest ? bytes.readUInt16LE(18) : bytes.readInt32LE(18);
  const heightPx = isOldest ? bytes.readUInt16LE(20) : Math.abs(bytes.readInt32LE(22));
  const bits = isOldest ? bytes.readUInt16LE(24) : readOrZero(bytes, 28, 2);
  const coding = isOldest ? 0 : readOrZero(bytes, 30, 4);
  if (!BMP_PLAIN.includes(coding)) {
    return failed('NOT_A_PHOTO', `a compressed BMP picture; ${EXPECTED}`, {
      where,
      hint: 'give the file as the camera wrote it',
    });
  }
  // Rows are filled up to four bytes. The decoder would take memory for all that the header promises.
  const promised = bytes.readUInt32LE(10) + Math.ceil((widthPx * bits) / 32) * 4 * heightPx;
  const most = MOST_PIXELS * 4;
  if (promised > bytes.length && promised < most) {
    return describeDamage(where, new Error(`${bytes.length} bytes, expected ${promised}`));
  }
  return success({
    format: 'bmp',
    widthPx,
    heightPx,
    metadata: undefined,
    decode: () => decodeBmp(bytes),
  });
}

/** Codings without compression: plain, and two with masks for the colours. */
const BMP_PLAIN: readonly number[] = [0, 3, 6];

function readOrZero(bytes: Buffer, at: number, length: 2 | 4): number {
  return at + length > bytes.length ? 0 : bytes.readUIntLE(at, length);
}

async function decodeBmp(bytes: Buffer): Promise<Sharp> {
  // Takes more than a second to load and is needed for this one format alone.
  const { Jimp } = await import('jimp');
  const { bitmap } = await Jimp.fromBuffer(bytes);
  const sharp = await loadSharp();
  return sharp(bitmap.data, {
    raw: { width: bitmap.width, height: bitmap.height, channels: 4 },
  });
}

function checkSize(picture: OpenPicture, where: string): Outcome<OpenPicture> {
  const { widthPx, heightPx } = picture;
  const pixels = widthPx * heightPx;
  const size = `${widthPx} × ${heightPx} pixels`;
  const figures = { widthPx, heightPx };
  if (!(widthPx > 0 && heightPx > 0)) {
    return describeDamage(where, new Error(`size ${size}`));
  }
  if (pixels > MOST_PIXELS) {
    return refuseLarge(size, where, figures);
  }
  if (pixels < LEAST_PIXELS) {
    return failed(
      'PHOTO_TOO_SMALL',
      `${size}; at least ${LEAST_PIXELS / 1e6} megapixels are needed`,
      {
        where,
        figures,
        hint: 'give the original photo, not a preview or one shrunk by a messenger',
      },
    );
  }
  return success(picture);
}
