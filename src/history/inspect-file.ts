/** Whether a file is a history of ours: nothing is changed in one that is not, and no lock is taken. */

import { constants } from 'node:fs';
import { access, stat } from 'node:fs/promises';
import { setTimeout as wait } from 'node:timers/promises';
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
    await access(file, constants.R_OK);
  } catch (cause) {
    return failedRead(cause, where, {
      what: 'history',
      missingHint:
        'gantrue log add begins one; an existing one is named with --history or GANTRUE_HISTORY',
    });
  }
  try {
    const id = await readApplicationId(file);
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

/** While another process brings its log in, the file may be shorter than its head says, for less than this. */
const GROWING_MS = 25;
const MOST_TRIES = 4;

async function readApplicationId(file: string): Promise<unknown> {
  for (let tries = 1; ; tries++) {
    const connection = await openBare(file, 'immutable');
    try {
      return firstValue(connection, 'PRAGMA application_id');
    } catch (cause) {
      const isCorrupt = historyFailure(cause, file)?.message.includes('CORRUPT') ?? false;
      if (!isCorrupt || tries >= MOST_TRIES) throw cause;
    } finally {
      connection.close();
    }
    await wait(GROWING_MS);
  }
}

async function hasContent(path: string): Promise<boolean> {
  try {
    return (await stat(path)).size > 0;
  } catch {
    return false;
  }
}
