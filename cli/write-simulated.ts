/** Puts simulated photos into their folder: rendered beside it, moved when all are there. */

import { mkdir, mkdtemp, readdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import type { Simulation } from '../samples/index.js';
import { failed, holdSignals, type Outcome, success } from '../src/index.js';

export interface WrittenSimulation {
  readonly files: readonly string[];
  readonly simulation: Simulation;
}

const PROGRAM_NAME = 'bed-grid.ngc';
/** Names that a simulation writes. */
const OWN_NAME = /^(?:photo-\d+\.jpg|truth\.json|evidence\.yaml|bed-grid\.ngc)$/;

export interface SimulatedPlace {
  readonly out: string;
  readonly force?: boolean;
}

/**
 * @param render throws where it stops because a signal is held.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 */
export function writeSimulated(
  place: SimulatedPlace,
  programText: string | undefined,
  render: (outDir: string, isHeld: () => boolean) => Promise<Simulation>,
): Promise<Outcome<WrittenSimulation>> {
  return holdSignals((isHeld) =>
    writeBeside(place, programText, (outDir) => render(outDir, isHeld)),
  );
}

async function writeBeside(
  { out, force }: SimulatedPlace,
  programText: string | undefined,
  render: (outDir: string) => Promise<Simulation>,
): Promise<Outcome<WrittenSimulation>> {
  const folder = resolve(out);
  let pending: string | undefined;
  try {
    const free = await checkFolder(folder, out, force === true);
    if (!free.ok) return free;
    await mkdir(dirname(folder), { recursive: true });
    pending = await mkdtemp(join(dirname(folder), `.${basename(folder)}.pending-`));
    const simulation = await render(pending);
    const names = simulation.files.map((file) => basename(file));
    if (programText !== undefined) {
      await writeFile(join(pending, PROGRAM_NAME), programText);
      names.push(PROGRAM_NAME);
    }
    await mkdir(folder, { recursive: true });
    // Photos of a longer earlier run would be taken for this one's.
    for (const name of free.value) await rm(join(folder, name), { force: true });
    for (const name of names) await rename(join(pending, name), join(folder, name));
    return success({ files: names.map((name) => join(out, name)), simulation });
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : '';
    if (!/^E[A-Z]+$/.test(code)) throw cause;
    return failed('OUTPUT_UNWRITABLE', `the photos cannot be written (${code})`, {
      where: out,
      hint: 'choose another folder with --out, or make room',
      cause,
    });
  } finally {
    if (pending !== undefined) await rm(pending, { recursive: true, force: true });
  }
}

/** Names in the folder that an earlier simulation wrote; only its own may be replaced. */
async function checkFolder(
  folder: string,
  out: string,
  force: boolean,
): Promise<Outcome<readonly string[]>> {
  let names: string[];
  try {
    names = (await readdir(folder)).filter((name) => OWN_NAME.test(name));
  } catch (cause) {
    if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') return success([]);
    throw cause;
  }
  if (names.length === 0) return success([]);
  if (!(await isSimulated(folder))) {
    return failed('OUTPUT_EXISTS', `not written by an earlier simulation: ${names.join(', ')}`, {
      where: out,
      hint: 'these files are never replaced: choose another folder with --out',
    });
  }
  if (force) return success(names);
  return failed('OUTPUT_EXISTS', `simulated photos are there already: ${names.join(', ')}`, {
    where: out,
    hint: 'replace them with --force, or choose another folder with --out',
  });
}

async function isSimulated(folder: string): Promise<boolean> {
  try {
    const truth = JSON.parse(await readFile(join(folder, 'truth.json'), 'utf8'));
    return String(truth?.schema).startsWith('gantrue/simulated-truth/');
  } catch {
    return false;
  }
}
