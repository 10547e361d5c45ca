/** An older history becomes one of the present version; a copy of it is put aside before each step. */

import { open, rename, rm, stat } from 'node:fs/promises';
import type { Migration } from './schema.js';
import { type Connection, firstValue } from './sqlite.js';

/**
 * Runs the steps that the file lacks, each in a transaction of its own, after a backup beside the file:
 * `<file>.backup-v<version>`.
 *
 * @throws what the database throws; the file then has the version that was reached.
 */
export async function migrate(
  connection: Connection,
  file: string,
  migrations: readonly Migration[],
): Promise<void> {
  for (const migration of migrations) {
    let isDone = false;
    while (!isDone) {
      const version = versionOf(connection);
      if (version >= migration.to) break;
      const changes = changesOf(connection);
      await backUp(connection, file, version);
      // What another process has written since would be missing in the backup: then once more.
      isDone = step(connection, migration, version, changes);
    }
  }
}

function step(
  connection: Connection,
  { to, run }: Migration,
  from: number,
  changes: number,
): boolean {
  connection.exec('BEGIN IMMEDIATE');
  try {
    const isUntouched = versionOf(connection) === from && changesOf(connection) === changes;
    if (isUntouched) {
      run(connection);
      connection.exec(`PRAGMA user_version = ${to}`);
    }
    connection.exec('COMMIT');
    return isUntouched;
  } catch (cause) {
    connection.exec('ROLLBACK');
    throw cause;
  }
}

async function backUp(connection: Connection, file: string, version: number): Promise<void> {
  const draft = `${file}.backup-${process.pid}.part`;
  try {
    await rm(draft, { force: true });
    connection.exec(`VACUUM INTO '${draft.replaceAll("'", "''")}'`);
    const handle = await open(draft, 'r+');
    try {
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(draft, await freeName(`${file}.backup-v${version}`));
  } finally {
    await rm(draft, { force: true });
  }
}

async function freeName(wanted: string): Promise<string> {
  for (let n = 1; ; n += 1) {
    const name = n === 1 ? wanted : `${wanted}-${n}`;
    try {
      await stat(name);
    } catch {
      return name;
    }
  }
}

function versionOf(connection: Connection): number {
  return Number(firstValue(connection, 'PRAGMA user_version'));
}

/** Grows with each commit of another connection. */
function changesOf(connection: Connection): number {
  return Number(firstValue(connection, 'PRAGMA data_version'));
}
