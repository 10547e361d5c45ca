/** Opening a history: what is damaged, foreign or newer is refused and left as it is. */

import { randomBytes } from 'node:crypto';
import { mkdir, open, rm, stat } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { type Failure, failed, type Outcome } from '../quantity/index.js';
import { holdSignals } from './hold-signals.js';
import { inspectFile } from './inspect-file.js';
import { migrate } from './migrate.js';
import { fileExists, nameNewFile } from './name-new-file.js';
import { APPLICATION_ID, MIGRATIONS, type Migration } from './schema.js';
import { type Connection, connect, damagedHistory, firstValue, historyFailure } from './sqlite.js';

export interface History {
  /** As named by the user, for failures. */
  readonly path: string;
  readonly connection: Connection;
}

/** `create`: a history that is not there yet is begun. */
export type HistoryAccess = 'read' | 'write' | 'create';

/**
 * Opens the history, runs the action and closes it. What the database refuses inside becomes a failure.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; HISTORY_FOREIGN; HISTORY_DAMAGED; HISTORY_NEWER; HISTORY_BUSY;
 * HISTORY_UNWRITABLE; as the action.
 */
export async function withHistory<T>(
  path: string,
  access: HistoryAccess,
  action: (history: History) => Outcome<T> | Promise<Outcome<T>>,
  migrations: readonly Migration[] = MIGRATIONS,
): Promise<Outcome<T>> {
  const file = resolve(path);
  let connection: Connection | undefined;
  try {
    if (access === 'create') await holdSignals(() => createIfMissing(file, migrations));
    const inspected = await inspectFile(file, path);
    if (!inspected.ok) return inspected;
    connection = await connectToRead(file, inspected.value.hasLog);
    const version = Number(firstValue(connection, 'PRAGMA user_version'));
    const latest = migrations.at(-1)!.to;
    const trouble =
      version > latest ? newerHistory(path, version, latest) : await findDamage(connection, path);
    if (trouble !== undefined) return { ok: false, failure: trouble };
    if (access !== 'read' || version < latest) {
      connection.close();
      connection = await connect(file, 'rw');
      await migrate(connection, file, migrations);
    }
    const result = await action({ path, connection });
    if (access !== 'read') bringIn(connection);
    return result;
  } catch (cause) {
    const failure = historyFailure(cause, path) ?? fileFailure(cause, path);
    if (failure === undefined) throw cause;
    return { ok: false, failure };
  } finally {
    connection?.close();
  }
}

/**
 * Brings the log of changes into the file, so that whoever copies the file alone copies everything. Where others
 * are reading just now, the next one does it.
 */
function bringIn(connection: Connection): void {
  try {
    connection.exec('PRAGMA busy_timeout = 0; PRAGMA wal_checkpoint(TRUNCATE);');
  } catch {
    // The change itself is on the disk, in the log.
  }
}

/**
 * The new file gets its name only when its tables are in it, so that nobody meets half a history.
 */
async function createIfMissing(file: string, migrations: readonly Migration[]): Promise<void> {
  if (await fileExists(file)) return;
  await mkdir(dirname(file), { recursive: true });
  const draft = `${file}.new-${process.pid}-${randomBytes(4).toString('hex')}`;
  try {
    const connection = await connect(draft, 'rwc');
    try {
      // Statements would be closed too late: only `exec` here.
      connection.exec('PRAGMA journal_mode = WAL; BEGIN IMMEDIATE;');
      for (const { run } of migrations) run(connection);
      connection.exec(
        `PRAGMA user_version = ${migrations.at(-1)!.to}; PRAGMA application_id = ${APPLICATION_ID}; COMMIT;`,
      );
    } finally {
      connection.close();
    }
    // Another process may have begun it meanwhile.
    await nameNewFile(draft, file);
    await synchronise(dirname(file));
  } finally {
    for (const end of ['', '-wal', '-shm', '-journal']) await rm(draft + end, { force: true });
  }
}

/** So that the name outlives a power cut; some systems refuse it for folders. */
async function synchronise(folder: string): Promise<void> {
  try {
    const handle = await open(folder, 'r');
    try {
      await handle.sync();
    } finally {
      await handle.close();
    }
  } catch {
    // The file itself was synchronised.
  }
}

/**
 * Read-only, so that closing brings nothing into a file that turns out damaged. In a folder that cannot be
 * written even reading takes no lock; that is safe where no log of changes is left.
 */
async function connectToRead(file: string, hasLog: boolean): Promise<Connection> {
  try {
    const connection = await connect(file, 'ro');
    firstValue(connection, 'SELECT count(*) FROM sqlite_schema');
    return connection;
  } catch (cause) {
    const failure = historyFailure(cause, file);
    if (hasLog || failure?.code !== 'HISTORY_UNWRITABLE') throw cause;
    return connect(file, 'immutable');
  }
}

/** Up to here the whole file is looked through in a fraction of a second. */
const WHOLE_CHECK_BYTES = 256 * 2 ** 20;

async function findDamage(connection: Connection, path: string): Promise<Failure | undefined> {
  const { size } = await stat(path);
  const checks =
    size <= WHOLE_CHECK_BYTES
      ? ['PRAGMA quick_check(1)']
      : ['machine', 'entry', 'measurement', 'event'].map((table) => `PRAGMA quick_check(${table})`);
  for (const check of checks) {
    const said = firstValue(connection, check);
    if (said !== 'ok') return damagedHistory(path, String(said).replace(/\s+/g, ' '));
  }
  return undefined;
}

function newerHistory(where: string, version: number, latest: number): Failure {
  return failed(
    'HISTORY_NEWER',
    `a later version of this tool wrote the history: its tables have version ${version}, known are those up to ${latest}`,
    { where, hint: 'use the later version; the file was left as it is' },
  ).failure;
}

/** The file system's own refusals while a history is begun or backed up. */
function fileFailure(cause: unknown, where: string): Failure | undefined {
  const code = codeOf(cause);
  if (code === undefined || !/^E[A-Z]+$/.test(code)) return undefined;
  return failed('HISTORY_UNWRITABLE', `the history cannot be written there (${code})`, {
    where,
    cause,
    hint: 'nothing was changed; name another file with --history',
  }).failure;
}

function codeOf(cause: unknown): string | undefined {
  return cause instanceof Error && 'code' in cause ? String(cause.code) : undefined;
}
