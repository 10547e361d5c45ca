/** Why a file could not be read, in the same words for every kind of file. */

import { type Failure, failed } from './failure.js';

export interface ReadWords {
  /** What people call the file: 'machine file'. */
  readonly what: string;
  /** What helps where it is missing, and where it cannot be read. */
  readonly missingHint?: string;
  readonly unreadableHint?: string;
}

/**
 * Turns what the file system threw into a failure.
 *
 * @param where the path as given.
 * @returns FILE_MISSING or FILE_UNREADABLE.
 */
export function failedRead(
  cause: unknown,
  where: string,
  {
    what,
    missingHint = 'look for a slip in the name or the folder',
    unreadableHint = 'name a file that you may read',
  }: ReadWords,
): { readonly ok: false; readonly failure: Failure } {
  const code = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause);
  // ENOTDIR: a part of the path that should be a folder is a file.
  return code === 'ENOENT' || code === 'ENOTDIR'
    ? failed('FILE_MISSING', `there is no such ${what}`, { where, hint: missingHint, cause })
    : failed('FILE_UNREADABLE', `the ${what} cannot be read (${code})`, {
        where,
        hint: unreadableHint,
        cause,
      });
}
