/** One file of text that appears whole or not at all. */

import { randomBytes } from 'node:crypto';
import { open, realpath, rename, rm } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { failed, type Outcome, success } from '../quantity/index.js';
import { holdSignals } from './hold-signals.js';
import { nameNewFile } from './name-new-file.js';

export interface WriteNewOptions {
  /** Replace what is there. */
  readonly force: boolean;
  /** Not even then. */
  readonly never: readonly string[];
}

/** Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE. */
export function writeNewFile(
  path: string,
  text: string,
  options: WriteNewOptions,
): Promise<Outcome<undefined>> {
  return holdSignals(() => writeDraft(path, text, options));
}

async function writeDraft(
  path: string,
  text: string,
  { force, never }: WriteNewOptions,
): Promise<Outcome<undefined>> {
  const exists = (hint: string) =>
    failed('OUTPUT_EXISTS', 'there is a file of this name', { where: path, hint });
  const target = await realPath(path);
  const kept = await Promise.all(never.map(realPath));
  if (kept.includes(target)) {
    return exists('the history itself is not written over: choose another name');
  }
  const draft = `${path}.${process.pid}-${randomBytes(4).toString('hex')}.part`;
  try {
    const file = await open(draft, 'wx');
    try {
      await file.writeFile(text);
      await file.sync();
    } finally {
      await file.close();
    }
    if (force) await rename(draft, path);
    else if (!(await nameNewFile(draft, path))) return exists('--force replaces it');
    return success(undefined);
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause);
    return failed('OUTPUT_UNWRITABLE', `the file cannot be written (${code})`, {
      where: path,
      cause,
      hint: 'choose another place with --out',
    });
  } finally {
    await rm(draft, { force: true }).catch(() => undefined);
  }
}

/** Also of a file that is not there yet; by whatever links its folder is reached. */
async function realPath(path: string): Promise<string> {
  const whole = resolve(path);
  try {
    return join(await realpath(dirname(whole)), basename(whole));
  } catch {
    return whole;
  }
}
