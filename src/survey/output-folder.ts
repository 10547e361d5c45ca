/**
 * The folder of results: a set of files that appears whole or not at all.
 *
 * A new folder is written beside its place and renamed into it. Into a folder that exists, the files
 * are first written and synchronised in a hidden folder inside it, then a complete list of them is
 * put there, then each is renamed into its place. A run that is killed before the list leaves the old
 * set; one that is killed after it leaves a list from which the next reader or writer finishes.
 */

import { randomBytes } from 'node:crypto';
import {
  type FileHandle,
  mkdir,
  open,
  readdir,
  readFile,
  rename,
  rm,
  stat,
} from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { ERROR_TABLE_HEADER } from '../correction/index.js';
import { holdSignals, Interrupted } from '../history/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { DEVIATIONS_HEADER, REPORT_MARK } from '../report/index.js';

export interface OutputFile {
  /** Without folders. */
  readonly name: string;
  readonly content: string | Uint8Array;
}

export interface OutputOptions {
  /** Replace our own earlier files. */
  readonly force: boolean;
  /** Files that must never be written over. */
  readonly sourcePaths: readonly string[];
}

const PENDING = '.gantrue-pending-';
const COMPLETE = 'complete.json';
/** The files by which a folder of ours is known: the schema that each states, and what is written beside it where it does not say. */
const RESULTS: Readonly<
  Record<string, { readonly schema: string; readonly beside: readonly string[] }>
> = {
  'measurement.json': {
    schema: 'gantrue/measurement/',
    beside: ['report.html', 'deviations.csv'],
  },
  'plan.json': { schema: 'gantrue/plan/', beside: [] },
  'first.json': { schema: 'gantrue/plan/', beside: [] },
  'fresh.json': { schema: 'gantrue/plan/', beside: [] },
  'check.json': { schema: 'gantrue/check/', beside: [] },
  'fixture.json': { schema: 'gantrue/fixture/', beside: ['fixture.html'] },
};
/** What a result may have written beside itself. */
const OWN_NAME =
  /^(?:measurement\.json|report\.html|deviations\.csv|overlay-.+\.jpg|rectified-.+\.jpg|fixture\.(?:json|html)|fixture-.+\.jpg|(?:plan|first|second|fresh)\.json|(?:grid|first|second|fresh|inserts)\.ngc|preview(?:-first|-second|-fresh)?\.svg|table-[xy]\.csv|cut-sheet\.txt|check\.(?:json|svg))$/;

/** Files that say by their beginning that they are ours, with no record beside them. */
const BEGINNINGS: Readonly<Record<string, string>> = {
  'report.html': `<!DOCTYPE html>\n${REPORT_MARK}`,
  'fixture.html': `<!DOCTYPE html>\n${REPORT_MARK}`,
  'deviations.csv': DEVIATIONS_HEADER,
  'table-x.csv': ERROR_TABLE_HEADER,
  'table-y.csv': ERROR_TABLE_HEADER,
};

/**
 * Looks, before any work is done, whether results could be written; nothing is changed, except that
 * an interrupted earlier writing is finished.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 */
export async function checkOutputFolder(
  outDir: string,
  names: readonly string[],
  { force, sourcePaths }: OutputOptions,
): Promise<Outcome<undefined>> {
  const folder = resolve(outDir);
  const sources = new Set(sourcePaths.map((path) => resolve(path)));
  for (const name of names) {
    if (!sources.has(join(folder, name))) continue;
    return failed('OUTPUT_EXISTS', 'an input would be written over', {
      where: join(outDir, name),
      hint: 'choose another folder with --out',
    });
  }
  try {
    const found = await lookUp(folder);
    if (found === undefined) return await checkParent(folder, outDir);
    if (!found.isDirectory()) {
      return failed('OUTPUT_UNWRITABLE', 'this is a file, expected a folder', {
        where: outDir,
        hint: 'choose another folder with --out',
      });
    }
    await finishInterrupted(folder);
    return await checkNames(folder, outDir, names, force);
  } catch (cause) {
    return unwritable(outDir, cause);
  }
}

/**
 * Writes the files as one set.
 *
 * Where it holds a new measurement, earlier files that the old one named go.
 *
 * @returns paths of the files, in the order given.
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE. Nothing is left behind then.
 */
export async function writeOutputFolder(
  outDir: string,
  files: readonly OutputFile[],
  options: OutputOptions,
): Promise<Outcome<string[]>> {
  const names = files.map(({ name }) => name);
  const checked = await checkOutputFolder(outDir, names, options);
  if (!checked.ok) return checked;
  const folder = resolve(outDir);
  try {
    await holdSignals(async (isHeld) => {
      const exists = (await lookUp(folder)) !== undefined;
      if (exists) await replaceInside(folder, files, isHeld);
      else await createWhole(folder, files, isHeld);
    });
    return success(names.map((name) => join(outDir, name)));
  } catch (cause) {
    return unwritable(outDir, cause);
  }
}

/** Carries an interrupted writing to its end, or clears away what was never complete. */
export async function finishInterrupted(folder: string): Promise<void> {
  const entries = await readdir(folder);
  for (const entry of entries.filter((name) => name.startsWith(PENDING))) {
    const pending = join(folder, entry);
    const list = await readList(join(pending, COMPLETE));
    if (list !== undefined) await putInPlace(folder, pending, list);
    else if (!isAlive(entry)) await rm(pending, { recursive: true, force: true });
  }
}

/** A running process of the same machine still writes there. */
function isAlive(entry: string): boolean {
  const pid = Number(/-(\d+)-[0-9a-f]+$/.exec(entry)?.[1]);
  if (!Number.isInteger(pid) || pid === process.pid) return false;
  try {
    process.kill(pid, 0);
    return true;
  } catch (cause) {
    return cause instanceof Error && 'code' in cause && cause.code === 'EPERM';
  }
}

async function lookUp(path: string) {
  try {
    return await stat(path);
  } catch (cause) {
    if (codeOf(cause) === 'ENOENT') return undefined;
    throw cause;
  }
}

async function checkParent(folder: string, outDir: string): Promise<Outcome<undefined>> {
  for (let parent = dirname(folder); ; parent = dirname(parent)) {
    const found = await lookUp(parent).catch((cause) => {
      if (codeOf(cause) === 'ENOTDIR') return undefined;
      throw cause;
    });
    if (found?.isDirectory()) return success(undefined);
    if (found !== undefined || parent === dirname(parent)) {
      return failed('OUTPUT_UNWRITABLE', `${parent} is no folder`, {
        where: outDir,
        hint: 'choose another folder with --out',
      });
    }
  }
}

/** Only what an earlier result of ours names as its own may be replaced, and only when told so. */
async function checkNames(
  folder: string,
  outDir: string,
  names: readonly string[],
  force: boolean,
): Promise<Outcome<undefined>> {
  const present = new Set((await readdir(folder)).map((name) => name.toLowerCase()));
  const taken = names.filter((name) => present.has(name.toLowerCase()));
  if (taken.length === 0) return success(undefined);
  const own = await listOwn(folder);
  const foreign: string[] = [];
  for (const name of taken) {
    if (!own.has(name) && !(await beginsAsOurs(folder, name))) foreign.push(name);
  }
  if (foreign.length > 0) {
    return failed('OUTPUT_EXISTS', `not written by an earlier run: ${foreign.join(', ')}`, {
      where: outDir,
      hint: 'these files are never replaced: move them, or choose another folder with --out',
    });
  }
  if (force) return success(undefined);
  return failed('OUTPUT_EXISTS', `results are there already: ${taken.join(', ')}`, {
    where: outDir,
    hint: 'replace them with --force, or choose another folder with --out',
  });
}

async function beginsAsOurs(folder: string, name: string): Promise<boolean> {
  const beginning = BEGINNINGS[name];
  if (beginning === undefined) return false;
  let file: FileHandle | undefined;
  try {
    file = await open(join(folder, name), 'r');
    const { buffer, bytesRead } = await file.read(Buffer.alloc(beginning.length), 0);
    return buffer.toString('latin1', 0, bytesRead) === beginning;
  } catch {
    return false;
  } finally {
    await file?.close();
  }
}

/** Names that the results in the folder wrote; none where there is no result of ours. */
async function listOwn(
  folder: string,
  kinds: ReadonlySet<string> = new Set(Object.values(RESULTS).map(({ schema }) => schema)),
): Promise<Set<string>> {
  const own = new Set<string>();
  for (const [name, { schema, beside }] of Object.entries(RESULTS)) {
    if (!kinds.has(schema)) continue;
    for (const file of await namesInResult(folder, name, schema, beside)) {
      if (OWN_NAME.test(file) && file === basename(file)) own.add(file);
    }
  }
  return own;
}

async function namesInResult(
  folder: string,
  name: string,
  schema: string,
  beside: readonly string[],
): Promise<string[]> {
  let result: { schema?: unknown; photos?: unknown; files?: unknown };
  try {
    result = JSON.parse(await readFile(join(folder, name), 'utf8'));
  } catch {
    return [];
  }
  if (typeof result?.schema !== 'string' || !result.schema.startsWith(schema)) return [];
  const photos = Array.isArray(result.photos) ? result.photos : [];
  const files = Array.isArray(result.files) ? result.files : beside;
  const named = [name, ...files, ...photos.flatMap((photo) => [photo?.overlay, photo?.rectified])];
  return named.filter((file) => typeof file === 'string');
}

async function createWhole(
  folder: string,
  files: readonly OutputFile[],
  isHeld: () => boolean,
): Promise<void> {
  const parent = dirname(folder);
  await mkdir(parent, { recursive: true });
  await clearAbandoned(parent, `.${basename(folder)}${PENDING}`);
  const pending = join(parent, `.${basename(folder)}${PENDING}${token()}`);
  try {
    await writeAll(pending, files, isHeld);
    await rename(pending, folder);
  } catch (cause) {
    await rm(pending, { recursive: true, force: true });
    throw cause;
  }
  await synchronise(parent);
}

async function clearAbandoned(parent: string, start: string): Promise<void> {
  const entries = await readdir(parent);
  for (const entry of entries.filter((name) => name.startsWith(start) && !isAlive(name))) {
    await rm(join(parent, entry), { recursive: true, force: true });
  }
}

interface Pending {
  readonly names: readonly string[];
  readonly obsolete: readonly string[];
}

async function replaceInside(
  folder: string,
  files: readonly OutputFile[],
  isHeld: () => boolean,
): Promise<void> {
  const names = files.map(({ name }) => name);
  const kinds = new Set(names.flatMap((name) => RESULTS[name]?.schema ?? []));
  // A plan beside a measurement leaves the measurement alone, and the other way round.
  const own = await listOwn(folder, kinds);
  const obsolete = [...own].filter((name) => !names.includes(name));
  const pending = join(folder, `${PENDING}${token()}`);
  const list: Pending = { names, obsolete };
  try {
    await writeAll(pending, files, isHeld);
    await writeAll(pending, [{ name: `${COMPLETE}.part`, content: JSON.stringify(list) }], isHeld);
    await rename(join(pending, `${COMPLETE}.part`), join(pending, COMPLETE));
    await synchronise(pending);
  } catch (cause) {
    await rm(pending, { recursive: true, force: true });
    throw cause;
  }
  await putInPlace(folder, pending, list);
}

/** Safe to repeat: what has been moved already is no longer there to move. */
async function putInPlace(folder: string, pending: string, list: Pending): Promise<void> {
  for (const name of list.names) {
    try {
      await rename(join(pending, name), join(folder, name));
    } catch (cause) {
      if (codeOf(cause) !== 'ENOENT') throw cause;
    }
  }
  for (const name of list.obsolete) await rm(join(folder, name), { force: true });
  await synchronise(folder);
  await rm(pending, { recursive: true, force: true });
}

async function readList(path: string): Promise<Pending | undefined> {
  try {
    const { names, obsolete } = JSON.parse(await readFile(path, 'utf8')) as Pending;
    const isPlain = (name: string) => OWN_NAME.test(name) && name === basename(name);
    return { names: names.filter(isPlain), obsolete: obsolete.filter(isPlain) };
  } catch {
    return undefined;
  }
}

async function writeAll(
  folder: string,
  files: readonly OutputFile[],
  isHeld: () => boolean,
): Promise<void> {
  await mkdir(folder, { recursive: true });
  for (const { name, content } of files) {
    if (isHeld()) throw new Interrupted();
    const file = await open(join(folder, name), 'wx');
    try {
      await file.writeFile(content);
      await file.sync();
    } finally {
      await file.close();
    }
  }
  await synchronise(folder);
}

/** Names reach the disk with their folder; some systems cannot open one for that. */
export async function synchronise(folder: string): Promise<void> {
  let handle: FileHandle | undefined;
  try {
    handle = await open(folder, 'r');
    await handle.sync();
  } catch (cause) {
    if (!['EISDIR', 'EPERM', 'EINVAL', 'EACCES', 'ENOTSUP'].includes(codeOf(cause))) throw cause;
  } finally {
    await handle?.close();
  }
}

export function token(): string {
  return `${process.pid}-${randomBytes(4).toString('hex')}`;
}

export function unwritable(where: string, cause: unknown): ReturnType<typeof failed> {
  const code = codeOf(cause);
  const words: Record<string, string> = {
    ENOSPC: 'the disk is full',
    EDQUOT: 'the quota is used up',
    EACCES: 'no permission to write there',
    EPERM: 'no permission to write there',
    EROFS: 'the disk is read-only',
    ENAMETOOLONG: 'the name is too long',
  };
  if (code === '') throw cause;
  return failed('OUTPUT_UNWRITABLE', words[code] ?? `the results cannot be written (${code})`, {
    where,
    hint: 'choose another folder with --out, or make room',
    cause,
  });
}

function codeOf(cause: unknown): string {
  return cause instanceof Error && 'code' in cause ? String(cause.code) : '';
}
