/**
 * The one door to the database package: its calls that are used here, with types, opening without ever creating
 * by accident, and its trouble as failures.
 */

import { pathToFileURL } from 'node:url';
import { type Failure, failed } from '../quantity/index.js';

export type SqlValue = string | number | Uint8Array | null;

export interface Statement {
  run(...values: readonly SqlValue[]): {
    readonly changes: number;
    readonly lastInsertRowid: number;
  };
  /** One object per row; numbers, texts, null; blobs as Uint8Array. */
  all(...values: readonly SqlValue[]): Record<string, SqlValue>[];
  /** Rows as arrays from now on: four times as fast. */
  raw(): { all(...values: readonly SqlValue[]): SqlValue[][] };
}

export interface Connection {
  prepare(sql: string): Statement;
  exec(sql: string): void;
  close(): void;
}

/** `rwc` creates, `immutable` reads where not even a lock can be taken. */
export type OpenMode = 'ro' | 'rw' | 'rwc' | 'immutable';

/** Another process adds one record in milliseconds; an import of thousands takes seconds. */
const BUSY_MS = 15_000;

/** @throws the package's own errors: see `historyFailure`. */
export async function connect(path: string, mode: OpenMode): Promise<Connection> {
  const connection = await openBare(path, mode);
  connection.exec(
    `PRAGMA busy_timeout = ${BUSY_MS}; PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA trusted_schema = OFF;`,
  );
  return connection;
}

/**
 * Without asking anything of the file yet.
 *
 * `close` ends a connection only when its statements have been collected as garbage; until then it stays an open
 * one. Nothing else in the process may then open and close the file: POSIX drops all locks of a process with the
 * first closing (sqlite.org/howtocorrupt.html, section 2.2), and another process could remove the log of changes
 * under a reader: kills at random moments have shown it.
 */
export async function openBare(path: string, mode: OpenMode): Promise<Connection> {
  // Loads a binary: only where a history is used.
  const { default: Database } = await import('libsql');
  const { href } = pathToFileURL(path);
  const query = mode === 'immutable' ? 'immutable=1&mode=ro' : `mode=${mode}`;
  return new Database(`${href}?${query}`) as unknown as Connection;
}

/** The first column of the first row; undefined where there is none. */
export function firstValue(
  connection: Connection,
  sql: string,
  ...values: readonly SqlValue[]
): SqlValue | undefined {
  return connection
    .prepare(sql)
    .raw()
    .all(...values)[0]?.[0];
}

/** Everything inside happens or nothing; waits for other writers first. */
export function inTransaction<T>(connection: Connection, action: () => T): T {
  connection.exec('BEGIN IMMEDIATE');
  try {
    const result = action();
    connection.exec('COMMIT');
    return result;
  } catch (cause) {
    try {
      connection.exec('ROLLBACK');
    } catch {
      // A full disk has rolled back already.
    }
    throw cause;
  }
}

/** SQLite's primary result codes (sqlite.org/rescode.html): the low byte of the extended ones. */
const CODE_OF_NUMBER: Readonly<Record<number, string>> = {
  3: 'PERM',
  5: 'BUSY',
  6: 'LOCKED',
  8: 'READONLY',
  10: 'IOERR',
  11: 'CORRUPT',
  13: 'FULL',
  14: 'CANTOPEN',
  15: 'PROTOCOL',
  26: 'NOTADB',
};

/**
 * What the database could not do, as a failure; undefined where it is a fault of ours.
 *
 * @returns HISTORY_BUSY; HISTORY_UNWRITABLE; HISTORY_DAMAGED.
 */
export function historyFailure(cause: unknown, where: string): Failure | undefined {
  // The database has no code for it: a head or tables that are not as they were written.
  if (
    cause instanceof Error &&
    /unsupported file format|no such (?:table|column)|already exists/.test(cause.message)
  ) {
    return damagedHistory(where, cause.message, cause);
  }
  const code = sqliteCode(cause);
  if (code === undefined) return undefined;
  const details = { where, cause };
  if (/BUSY|LOCKED|PROTOCOL/.test(code)) {
    return failed('HISTORY_BUSY', 'another program has been writing to the history all the time', {
      ...details,
      hint: 'wait until it has ended and try again',
    }).failure;
  }
  if (/CORRUPT|NOTADB/.test(code)) return damagedHistory(where, code, cause);
  return failed(
    'HISTORY_UNWRITABLE',
    `${DISK_WORDS[code] ?? 'the history cannot be written'} (${code})`,
    {
      ...details,
      hint: 'nothing was changed; make room or give write permission, or name another file with --history',
    },
  ).failure;
}

const DISK_WORDS: Readonly<Record<string, string>> = {
  FULL: 'the disk is full',
  CANTOPEN: 'the history cannot be opened for writing',
};

/** HISTORY_DAMAGED, in the same words wherever it is seen. */
export function damagedHistory(where: string, what: string, cause?: unknown): Failure {
  return failed('HISTORY_DAMAGED', `the history is damaged: ${what}; it was left as it is`, {
    where,
    cause,
    hint: 'put a copy of it back: a backup of yours, or a .backup file beside it; gantrue log import reads exports back',
  }).failure;
}

/** Not the package's own names: it knows only some of the extended codes. */
function sqliteCode(cause: unknown): string | undefined {
  if (!(cause instanceof Error)) return undefined;
  const stated = 'rawCode' in cause ? Number(cause.rawCode) : Number.NaN;
  const inWords = /unable to open connection to local database.*: (\d+)/is.exec(cause.message)?.[1];
  const number = Number.isInteger(stated) ? stated : Number(inWords ?? Number.NaN);
  return CODE_OF_NUMBER[number & 0xff];
}
