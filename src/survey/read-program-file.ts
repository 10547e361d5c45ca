/** A program's file → what it commands. */

import { readFile } from 'node:fs/promises';
import {
  type CommandedProgram,
  decodeProgramText,
  type ReadProgramOptions,
  readProgram,
} from '../program/index.js';
import { failedRead, type Outcome } from '../quantity/index.js';

/** Fails: FILE_MISSING; FILE_UNREADABLE; what decoding and reading a program fail with. */
export async function readProgramFile(
  path: string,
  options: ReadProgramOptions,
): Promise<Outcome<CommandedProgram>> {
  let bytes: Buffer;
  try {
    bytes = await readFile(path);
  } catch (cause) {
    return failedRead(cause, path, { what: 'program' });
  }
  const text = decodeProgramText(bytes, options.name);
  return text.ok ? readProgram(text.value, options) : text;
}
