/** Photos named on the command line: files as they are, a folder for the pictures in it. */

import { readdir, stat } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { failed, type Outcome, success } from '../src/index.js';

/** HEIC is listed too: that it cannot be read must be said, not hidden. */
const PICTURES = new Set([
  '.jpg',
  '.jpeg',
  '.png',
  '.webp',
  '.tif',
  '.tiff',
  '.bmp',
  '.avif',
  '.heic',
  '.heif',
]);

/** What an earlier run wrote into the same folder. */
const OWN_PICTURE = /^(overlay|rectified)-/;

/** Fails: NO_USABLE_PHOTO, for a folder without pictures. Whether files exist is told when they are read. */
export async function listPhotos(paths: readonly string[]): Promise<Outcome<string[]>> {
  const photos: string[] = [];
  for (const path of paths) {
    const isFolder = await stat(path).then(
      (about) => about.isDirectory(),
      () => false,
    );
    if (!isFolder) {
      photos.push(path);
      continue;
    }
    const all = await readdir(path);
    const holdsResults = all.includes('measurement.json');
    const names = all.filter(
      (name) =>
        PICTURES.has(extname(name).toLowerCase()) && !(holdsResults && OWN_PICTURE.test(name)),
    );
    if (names.length === 0) {
      return failed('NO_USABLE_PHOTO', 'the folder holds no pictures', {
        where: path,
        hint: 'name the folder that the photos were copied to, or the photos themselves',
      });
    }
    // photo-2 before photo-10.
    names.sort((a, b) => a.localeCompare(b, 'en', { numeric: true }));
    photos.push(...names.map((name) => join(path, name)));
  }
  return success(photos);
}
