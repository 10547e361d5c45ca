/** Photo file → grey picture in the sensor's own frame. */

import { createHash } from 'node:crypto';
import { basename } from 'node:path';
import { failed, type GreyImage, type Outcome, success } from '../quantity/index.js';
import { type Exif, readExif } from './exif.js';
import { describeDamage, type OpenPicture, openPicture } from './open-picture.js';
import type { PictureFormat } from './picture-format.js';
import { readBytes } from './read-bytes.js';

export interface Photo {
  /** Path as given. */
  readonly file: string;
  /** The path's last part. */
  readonly name: string;
  /** SHA-256 of the file, hexadecimal. */
  readonly sha256: string;
  readonly format: PictureFormat;
  /** Size as stored, before any EXIF rotation. */
  readonly widthPx: number;
  readonly heightPx: number;
  readonly exif: Exif;
  readonly grey: GreyImage;
}

/** A picture with this share of its pixels within {@link BLANK_LEVELS} shows nothing: thin marks cover more. */
const BLANK_SHARE = 0.999;
const BLANK_LEVELS = 3;

/**
 * Reads a photo as 8-bit grey, transparent places as on white paper, the pixels in the order in
 * which the sensor's frame was stored: the EXIF orientation is reported, not applied.
 *
 * Memory: the file and one byte a pixel; colours are decoded in strips, but a progressive JPEG, an
 * AVIF or a BMP is held in colour as a whole. Seen at 108 megapixels: the process rose to
 * 250 MB with a baseline JPEG, to 550 MB with a progressive one.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; NOT_A_PHOTO; HEIC_UNSUPPORTED; PHOTO_TRUNCATED;
 * PHOTO_TOO_LARGE; PHOTO_TOO_SMALL; PHOTO_BLANK.
 */
export async function readPhoto(path: string): Promise<Outcome<Photo>> {
  const bytes = await readBytes(path);
  if (!bytes.ok) return bytes;
  const opened = await openPicture(bytes.value, path);
  if (!opened.ok) return opened;
  const grey = await decodeGrey(opened.value, path);
  if (!grey.ok) return grey;
  if (isBlank(grey.value)) {
    return failed('PHOTO_BLANK', 'the picture has the same grey all over', {
      where: path,
      hint: 'see that the lens was free and that there was light',
    });
  }
  return success({
    file: path,
    name: basename(path),
    sha256: createHash('sha256').update(bytes.value).digest('hex'),
    format: opened.value.format,
    widthPx: grey.value.width,
    heightPx: grey.value.height,
    exif: await readExif(findExifBlock(opened.value, bytes.value)),
    grey: grey.value,
  });
}

async function decodeGrey(picture: OpenPicture, where: string): Promise<Outcome<GreyImage>> {
  try {
    const decoder = await picture.decode();
    const { data, info } = await decoder
      .flatten({ background: '#ffffff' })
      .greyscale()
      .raw({ depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
    if (info.channels !== 1) throw new Error(`decoded to ${info.channels} channels, expected 1`);
    const pixels = new Uint8Array(data.buffer, data.byteOffset, data.length);
    return success({ width: info.width, height: info.height, data: pixels });
  } catch (cause) {
    return describeDamage(where, cause);
  }
}

/** Pixels looked at before all are: a picture that is not blank mostly shows it. */
const BLANK_STRIDE = 17;

function isBlank(grey: GreyImage): boolean {
  return isOfOneGrey(grey, BLANK_STRIDE) && isOfOneGrey(grey, 1);
}

function isOfOneGrey({ data }: GreyImage, stride: number): boolean {
  const counts = new Uint32Array(256);
  // Not `for … of`: its iterator takes six times as long.
  for (let i = 0; i < data.length; i += stride) counts[data[i]!]! += 1;
  const enough = BLANK_SHARE * Math.ceil(data.length / stride);
  for (let low = 0; low + BLANK_LEVELS < counts.length; low += 1) {
    let inside = 0;
    for (let level = low; level <= low + BLANK_LEVELS; level += 1) inside += counts[level]!;
    if (inside >= enough) return true;
  }
  return false;
}

function findExifBlock(picture: OpenPicture, bytes: Buffer): Buffer | undefined {
  // A TIFF file is its own EXIF block.
  if (picture.format === 'tiff') return bytes;
  const block = picture.metadata?.exif;
  if (block === undefined) return undefined;
  return block.toString('latin1', 0, 4) === 'Exif' ? block.subarray(6) : block;
}
