/** Whether a file is a history of ours: nothing is changed in one that is not, and no lock is taken. */

import { stat } from 'node:fs/promises';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { APPLICATION_ID } from './schema.js';
import { firstValue, historyFailure, openBare } from './sqlite.js';

export interface HistoryFacts {
  /** A log of changes lies beside it: it is in use, or a process was killed. */
  readonly hasLog: boolean;
}

/**
 * Looks at the head of the file through the database, never by its own reading: see `openBare`.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; HISTORY_FOREIGN; HISTORY_DAMAGED; HISTORY_UNWRITABLE.
 */
export async function inspectFile(file: string, where: string): Promise<Outcome<HistoryFacts>> {
  const foreign = (what: string) =>
    failed('HISTORY_FOREIGN', `this is no history of gantrue: ${what}; it was left as it is`, {
      where,
      hint: 'name another file with --history',
    });
  try {
    const found = await stat(file);
    if (!found.isFile()) throw Object.assign(new Error('no file'), { code: 'EISDIR' });
    if (found.size === 0) return foreign('the file is empty');
  } catch (cause) {
    return failedRead(cause, where, {
      what: 'history',
      missingHint:
        'gantrue log add begins one; an existing one is named with --history or GANTRUE_HISTORY',
    });
  }
  try {
    const connection = await openBare(file, 'immutable');
    const id = firstValue(connection, 'PRAGMA application_id');
    connection.close();
    if (id !== APPLICATION_ID) return foreign('it is a database of another program');
    return success({ hasLog: await hasContent(`${file}-wal`) });
  } catch (cause) {
    const failure = historyFailure(cause, where);
    if (failure === undefined) throw cause;
    return failure.message.includes('NOTADB')
      ? foreign('it is no SQLite database')
      : { ok: false, failure };
  }
}

async function hasContent(path: string): Promise<boolean> {
  try {
    return (await stat(path)).size > 0;
  } catch {
    return false;
  }
}
