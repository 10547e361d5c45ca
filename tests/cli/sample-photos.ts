/** The committed sample photos, at full size or made small for tests that need no precision. */

import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import { ROOT } from './run-gantrue.js';

export const SAMPLE_FOLDER = join(ROOT, 'samples/sign-shop');
export const SAMPLE_PROGRAM = join(SAMPLE_FOLDER, 'bed-grid.ngc');

export function samplePhoto(number: number): string {
  return join(SAMPLE_FOLDER, `photo-${number}.jpg`);
}

export interface SmallOptions {
  readonly widthPx?: number;
  /** Standard deviation of the blur in pixels of the small picture. */
  readonly blurPx?: number;
}

/** A sample photo scaled down, its EXIF kept. */
export async function writeSmallPhoto(
  number: number,
  path: string,
  { widthPx = 2000, blurPx }: SmallOptions = {},
): Promise<string> {
  const small = sharp(await readFile(samplePhoto(number))).resize(widthPx);
  if (blurPx !== undefined) small.blur(blurPx);
  await small.keepExif().jpeg({ quality: 92 }).toFile(path);
  return path;
}
