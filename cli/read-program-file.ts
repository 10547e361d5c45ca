/** The bytes of a program file. */

import { readFile } from 'node:fs/promises';
import { failed, type Outcome, success } from '../src/index.js';

/** Fails: FILE_MISSING; FILE_UNREADABLE. */
export async function readProgramFile(path: string): Promise<Outcome<Uint8Array>> {
  try {
    return success(await readFile(path));
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause);
    return code === 'ENOENT' || code === 'ENOTDIR'
      ? failed('FILE_MISSING', 'there is no such program', {
          where: path,
          hint: 'look for a slip in the name or the folder',
          cause,
        })
      : failed('FILE_UNREADABLE', `the program cannot be read (${code})`, {
          where: path,
          hint: 'name a file that you may read',
          cause,
        });
  }
}
