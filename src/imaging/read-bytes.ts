/** A file's bytes, or why they cannot be had. */

import { stat } from 'node:fs/promises';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { readLimited } from './read-limited.js';

/** As many pixels as are read at all, in colour and not compressed. */
const MOST_BYTES = 400_000_000;

/** Fails: FILE_MISSING; FILE_UNREADABLE (a folder, no permission); PHOTO_TOO_LARGE. */
export async function readBytes(path: string): Promise<Outcome<Buffer>> {
  try {
    const found = await stat(path);
    if (!found.isFile()) {
      return failed(
        'FILE_UNREADABLE',
        found.isDirectory() ? 'this is a folder, expected a picture file' : 'this is no file',
        { where: path, hint: 'name the picture files themselves' },
      );
    }
    const bytes = await readLimited(path, MOST_BYTES);
    if (bytes !== undefined) return success(bytes);
    return failed('PHOTO_TOO_LARGE', `the file is larger than ${MOST_BYTES / 1e6} MB`, {
      where: path,
      hint: 'give the photo as the phone saved it',
    });
  } catch (cause) {
    return failedRead(cause, path, {
      what: 'file',
      unreadableHint: 'see that you may read the file and that its disk is there',
    });
  }
}
