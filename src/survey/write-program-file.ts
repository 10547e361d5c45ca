/** One program's file, whole or not at all. */

import { type FileHandle, open, readFile, rename, rm, stat } from 'node:fs/promises';
import { basename, dirname, extname, join, resolve } from 'node:path';
import { holdSignals } from '../history/index.js';
import { decodeProgramText, encodeProgramText, isMarkedCompensated } from '../program/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { type OutputOptions, synchronise, token, unwritable } from './output-folder.js';
import type { ProgramText } from './read-program-file.js';

/** Where a compensated program goes: the file named, in the folder named, else in the current folder. */
export async function compensatedPath(program: string, out: string | undefined): Promise<string> {
  const extension = extname(program);
  const name = `${basename(program, extension)}-compensated${extension}`;
  if (out === undefined) return name;
  const isFolder = /[/\\]$/.test(out) || (await lookUp(out))?.isDirectory() === true;
  return isFolder ? join(out, name) : out;
}

/**
 * Looks whether the file could be written: never over an input, over another file only where it is a
 * compensated program and that is wanted.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 */
export async function checkProgramOutput(
  path: string,
  { force, sourcePaths }: OutputOptions,
): Promise<Outcome<undefined>> {
  if (sourcePaths.some((source) => resolve(source) === resolve(path))) {
    return failed('OUTPUT_EXISTS', 'an input would be written over', {
      where: path,
      hint: 'choose another file with --out',
    });
  }
  try {
    const folder = await lookUp(dirname(resolve(path)));
    if (folder === undefined || !folder.isDirectory()) {
      return failed('OUTPUT_UNWRITABLE', 'the folder for it does not exist', {
        where: path,
        hint: 'make the folder, or choose another one with --out',
      });
    }
    const found = await lookUp(path);
    if (found === undefined) return success(undefined);
    const text = found.isFile() ? decodeProgramText(await readFile(path), path) : undefined;
    if (!text?.ok || !isMarkedCompensated(text.value)) {
      return failed('OUTPUT_EXISTS', 'something else than a compensated program is there already', {
        where: path,
        hint: 'it is never replaced: move it, or choose another file with --out',
      });
    }
  } catch (cause) {
    return unwritable(path, cause);
  }
  if (force) return success(undefined);
  return failed('OUTPUT_EXISTS', 'a compensated program is there already', {
    where: path,
    hint: 'replace it with --force, or choose another file with --out',
  });
}

/**
 * Writes the file beside its place, synchronises it and renames it into its place.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE. Nothing is left behind then.
 */
export async function writeProgramFile(
  path: string,
  program: ProgramText,
  options: OutputOptions,
): Promise<Outcome<undefined>> {
  const checked = await checkProgramOutput(path, options);
  if (!checked.ok) return checked;
  return holdSignals(() => writeBeside(path, program));
}

async function writeBeside(path: string, program: ProgramText): Promise<Outcome<undefined>> {
  const folder = dirname(resolve(path));
  const pending = join(folder, `.${basename(path)}.pending-${token()}`);
  let file: FileHandle | undefined;
  try {
    file = await open(pending, 'wx');
    await file.writeFile(encodeProgramText(program.text, program));
    await file.sync();
    await file.close();
    file = undefined;
    await rename(pending, path);
    await synchronise(folder);
    return success(undefined);
  } catch (cause) {
    await file?.close();
    await rm(pending, { force: true });
    return unwritable(path, cause);
  }
}

async function lookUp(path: string) {
  try {
    return await stat(path);
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? cause.code : undefined;
    if (code === 'ENOENT' || code === 'ENOTDIR') return undefined;
    throw cause;
  }
}
