/** A finished file gets its name, never in place of another one. */

import { link, rename, stat } from 'node:fs/promises';

/** @returns false where a file of that name is there: the draft then still is, too. */
export async function nameNewFile(draft: string, name: string): Promise<boolean> {
  try {
    await link(draft, name);
    return true;
  } catch (cause) {
    const code = codeOf(cause);
    if (code === 'EEXIST') return false;
    // Memory sticks often know no second names.
    if (code !== 'EPERM' && code !== 'ENOTSUP' && code !== 'ENOSYS') throw cause;
    if (await fileExists(name)) return false;
    await rename(draft, name);
    return true;
  }
}

export async function fileExists(file: string): Promise<boolean> {
  try {
    await stat(file);
    return true;
  } catch (cause) {
    if (codeOf(cause) === 'ENOENT') return false;
    throw cause;
  }
}

function codeOf(cause: unknown): string | undefined {
  return cause instanceof Error && 'code' in cause ? String(cause.code) : undefined;
}
