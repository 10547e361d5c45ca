/** A program's file → what it commands. */

import { readFile } from 'node:fs/promises';
import {
  type CommandedProgram,
  decodeProgramText,
  type ProgramEncoding,
  programEncoding,
  type ReadProgramOptions,
  readCommands,
  readProgram,
} from '../program/index.js';
import { failedRead, type Outcome, success } from '../quantity/index.js';

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
  let bytes: Buffer;
  try {
    bytes = await readFile(path);
  } catch (cause) {
    return failedRead(cause, path, { what: 'program' });
  }
  const text = decodeProgramText(bytes, name);
  if (!text.ok) return text;
  return success({ text: text.value, ...programEncoding(bytes)! });
}

async function readText(
  path: string,
  options: ReadProgramOptions,
  read: typeof readProgram,
): Promise<Outcome<CommandedProgram>> {
  let bytes: Buffer;
  try {
    bytes = await readFile(path);
  } catch (cause) {
    return failedRead(cause, path, { what: 'program' });
  }
  const text = decodeProgramText(bytes, options.name);
  return text.ok ? read(text.value, options) : text;
}
