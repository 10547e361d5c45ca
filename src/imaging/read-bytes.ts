/** A file's bytes, or why they cannot be had. */

import { readFile, stat } from 'node:fs/promises';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';

/** Fails: FILE_MISSING; FILE_UNREADABLE (a folder, no permission, larger than 2 GiB). */
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
    return success(await readFile(path));
  } catch (cause) {
    return failedRead(cause, path, {
      what: 'file',
      unreadableHint: 'see that you may read the file and that its disk is there',
    });
  }
}
