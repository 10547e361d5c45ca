/** A program's file → what it commands. */

import { readLimited } from '../imaging/index.js';
import {
  type CommandedProgram,
  decodeProgramText,
  type ProgramEncoding,
  programEncoding,
  type ReadProgramOptions,
  readCommands,
  readProgram,
} from '../program/index.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';

/** A grid takes some tens of kilobytes; whoever cuts parts with the same program, some megabytes. */
export const MOST_PROGRAM_BYTES = 64_000_000;

/** Fails: FILE_MISSING; FILE_UNREADABLE; what decoding and reading a program fail with. */
export async function readProgramFile(
  path: string,
  options: ReadProgramOptions,
): Promise<Outcome<CommandedProgram>> {
  return readText(path, options, readProgram);
}

/** The same, but a program that marks no straight line is none the worse. Fails: as the other. */
export async function readCommandsFile(
  path: string,
  options: ReadProgramOptions,
): Promise<Outcome<CommandedProgram>> {
  return readText(path, options, readCommands);
}

/** A program's text and how its bytes were written, so that it can be written again alike. */
export interface ProgramText {
  readonly text: string;
  readonly encoding: ProgramEncoding;
  readonly hasMark: boolean;
}

/** Fails: FILE_MISSING; FILE_UNREADABLE; PROGRAM_INVALID where the file is no text. */
export async function readProgramText(path: string, name: string): Promise<Outcome<ProgramText>> {
  const bytes = await readProgramBytes(path);
  if (!bytes.ok) return bytes;
  const text = decodeProgramText(bytes.value, name);
  if (!text.ok) return text;
  return success({ text: text.value, ...programEncoding(bytes.value)! });
}

async function readText(
  path: string,
  options: ReadProgramOptions,
  read: typeof readProgram,
): Promise<Outcome<CommandedProgram>> {
  const bytes = await readProgramBytes(path);
  if (!bytes.ok) return bytes;
  const text = decodeProgramText(bytes.value, options.name);
  return text.ok ? read(text.value, options) : text;
}

async function readProgramBytes(path: string): Promise<Outcome<Buffer>> {
  try {
    const bytes = await readLimited(path, MOST_PROGRAM_BYTES);
    if (bytes !== undefined) return success(bytes);
  } catch (cause) {
    return failedRead(cause, path, { what: 'program' });
  }
  return failed('PROGRAM_INVALID', `it is larger than ${MOST_PROGRAM_BYTES / 1e6} MB`, {
    where: path,
    hint: 'give the program of the grid alone, without what was cut after it',
  });
}
