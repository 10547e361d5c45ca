/** What a file is, from its bytes alone: nothing is opened as a database that is none of ours. */

import { open, stat } from 'node:fs/promises';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { APPLICATION_ID } from './schema.js';
import { damagedHistory } from './sqlite.js';

export interface HistoryHeader {
  /** Version of its tables. */
  readonly version: number;
  /** A log of changes lies beside it: it is in use, or a process was killed. */
  readonly hasLog: boolean;
}

/** Layout: sqlite.org/fileformat2.html, section 1.3. */
const MAGIC = 'SQLite format 3\0';
const HEADER_BYTES = 100;
const PAGE_SIZE_AT = 16;
const PAGES_AT = 28;
const VERSION_AT = 60;
const APPLICATION_ID_AT = 68;

/** Fails: FILE_MISSING; FILE_UNREADABLE; HISTORY_FOREIGN; HISTORY_DAMAGED. */
export async function inspectFile(path: string): Promise<Outcome<HistoryHeader>> {
  let size: number;
  const header = Buffer.alloc(HEADER_BYTES);
  try {
    const file = await open(path, 'r');
    try {
      ({ size } = await file.stat());
      await file.read(header, 0, HEADER_BYTES, 0);
    } finally {
      await file.close();
    }
  } catch (cause) {
    return failedRead(cause, path, {
      what: 'history',
      missingHint:
        'gantrue log add begins one; an existing one is named with --history or GANTRUE_HISTORY',
    });
  }
  const foreign = (what: string) =>
    failed('HISTORY_FOREIGN', `this is no history of gantrue: ${what}; it was left as it is`, {
      where: path,
      hint: 'name another file with --history',
    });
  if (size === 0) return foreign('the file is empty');
  if (size < HEADER_BYTES || header.toString('latin1', 0, MAGIC.length) !== MAGIC) {
    return foreign('it is no SQLite database');
  }
  if (header.readUInt32BE(APPLICATION_ID_AT) !== APPLICATION_ID) {
    return foreign('it is a database of another program');
  }
  // 1 stands for 65536.
  const stated = header.readUInt16BE(PAGE_SIZE_AT);
  const pageSize = stated === 1 ? 65536 : stated;
  const hasLog = await hasContent(`${path}-wal`);
  if (!hasLog && size < pageSize * header.readUInt32BE(PAGES_AT)) {
    return { ok: false, failure: damagedHistory(path, 'it is cut short') };
  }
  return success({ version: header.readUInt32BE(VERSION_AT), hasLog });
}

async function hasContent(path: string): Promise<boolean> {
  try {
    return (await stat(path)).size > 0;
  } catch {
    return false;
  }
}
