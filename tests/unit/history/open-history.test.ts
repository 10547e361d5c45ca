import { createHash } from 'node:crypto';
import { copyFile, mkdir, readdir, readFile, truncate, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { describe, expect, it } from 'vitest';
import {
  listEntries,
  MIGRATIONS,
  type Migration,
  withHistory,
} from '../../../src/history/index.js';
import { connect } from '../../../src/history/sqlite.js';
import { success, unwrap } from '../../../src/quantity/index.js';
import { addEvent, newHistoryPath } from './make-history.js';

const nothing = () => success(undefined);

/** Opens in every way and expects the code, and the file as it was. */
async function expectRefused(path: string, code: string): Promise<void> {
  const before = await digest(path);
  for (const access of ['read', 'write', 'create'] as const) {
    const opened = await withHistory(path, access, nothing);
    expect(opened.ok ? 'opened' : opened.failure.code, access).toBe(code);
    expect(opened.ok ? '' : opened.failure.where).toBe(path);
  }
  expect(await digest(path)).toBe(before);
}

async function digest(path: string): Promise<string> {
  return createHash('sha256')
    .update(await readFile(path))
    .digest('hex');
}

async function filledHistory(events = 60): Promise<string> {
  const path = await newHistoryPath();
  for (let i = 0; i < events; i++) await addEvent(path, `event ${i} ${'x'.repeat(400)}`);
  return path;
}

describe('a file that is no history', () => {
  it('is refused and left as it is: a text', async () => {
    const path = await newHistoryPath();
    await writeFile(path, 'Shopping list\n'.repeat(300));
    await expectRefused(path, 'HISTORY_FOREIGN');
  });

  it('is refused and left as it is: an empty one', async () => {
    const path = await newHistoryPath();
    await writeFile(path, '');
    await expectRefused(path, 'HISTORY_FOREIGN');
  });

  it('is refused and left as it is: a database of another program', async () => {
    const path = await newHistoryPath();
    const connection = await connect(path, 'rwc');
    connection.exec('CREATE TABLE entry (id INTEGER PRIMARY KEY); PRAGMA user_version = 1;');
    connection.close();
    await expectRefused(path, 'HISTORY_FOREIGN');
  });

  it('is refused: a folder', async () => {
    const path = await newHistoryPath();
    await mkdir(path);
    const opened = await withHistory(path, 'create', nothing);
    expect(opened.ok ? 'opened' : opened.failure.code).toBe('FILE_UNREADABLE');
  });

  it('is missed by readers, who do not begin one', async () => {
    const path = await newHistoryPath();
    const opened = await withHistory(path, 'read', nothing);
    expect(opened.ok ? 'opened' : opened.failure.code).toBe('FILE_MISSING');
    expect(await readdir(dirname(path))).toEqual([]);
  });
});

describe('a damaged history', () => {
  it('that was cut short is refused and left as it is', async () => {
    const path = await filledHistory();
    await truncate(path, 20_000);
    await expectRefused(path, 'HISTORY_DAMAGED');
  });

  it('with pages overwritten is refused and left as it is', async () => {
    const path = await filledHistory();
    const bytes = await readFile(path);
    bytes.fill(0x5a, 8192, bytes.length - 4096);
    await writeFile(path, bytes);
    await expectRefused(path, 'HISTORY_DAMAGED');
  });

  it('is left as it is with a log of changes beside it, as after a power cut', async () => {
    const path = await filledHistory();
    const copy = join(dirname(path), 'copy.db');
    const opened = await withHistory(path, 'write', async ({ connection }) => {
      connection.exec("INSERT INTO machine (name) VALUES ('another')");
      await copyFile(path, copy);
      await copyFile(`${path}-wal`, `${copy}-wal`);
      return success(undefined);
    });
    unwrap(opened);
    const bytes = await readFile(copy);
    bytes.fill(0x5a, 8192);
    await writeFile(copy, bytes);
    await expectRefused(copy, 'HISTORY_DAMAGED');
  });
});

describe('a history whose writer was killed', () => {
  it('is read with what the log of changes holds', async () => {
    const path = await filledHistory(3);
    const copy = join(dirname(path), 'copy.db');
    await withHistory(path, 'write', async ({ connection }) => {
      connection.exec(
        "INSERT INTO entry (uid, kind, machine_id, at, added_at) VALUES ('0', 'event', 1, '2026', '2026'); INSERT INTO event VALUES (4, 'note', 'in the log');",
      );
      await copyFile(path, copy);
      await copyFile(`${path}-wal`, `${copy}-wal`);
      return success(undefined);
    });
    const rows = unwrap(await withHistory(copy, 'read', (history) => listEntries(history)));
    expect(rows.map((row) => row.kind === 'event' && row.text)).toContain('in the log');
  });

  it('is whole in its one file as soon as the command has ended', async () => {
    const path = await filledHistory(3);
    const copy = join(dirname(path), 'copy.db');
    await copyFile(path, copy);
    expect(unwrap(await withHistory(copy, 'read', (history) => listEntries(history)))).toHaveLength(
      3,
    );
  });
});

describe('tables of another version', () => {
  const second: Migration = {
    to: 2,
    run: (connection) =>
      connection.exec("ALTER TABLE machine ADD COLUMN place TEXT DEFAULT 'hall'"),
  };
  const third: Migration = {
    to: 3,
    run: (connection) => connection.exec("UPDATE event SET text = text || '!'"),
  };

  it('become the present ones step by step, each after a backup of what was there', async () => {
    const path = await filledHistory(2);
    const later = [...MIGRATIONS, second, third];
    const rows = unwrap(await withHistory(path, 'read', (history) => listEntries(history), later));
    expect(rows.map((row) => row.kind === 'event' && row.text.endsWith('!'))).toEqual([true, true]);
    const backups = (await readdir(dirname(path))).filter((name) => name.includes('backup')).sort();
    expect(backups).toEqual(['history.db.backup-v1', 'history.db.backup-v2']);
    const first = join(dirname(path), backups[0]!);
    const old = unwrap(await withHistory(first, 'read', (history) => listEntries(history)));
    expect(old.map((row) => row.kind === 'event' && row.text.endsWith('!'))).toEqual([
      false,
      false,
    ]);
  });

  it('that are later than this program are refused and left as they are', async () => {
    const path = await filledHistory(2);
    unwrap(await withHistory(path, 'read', nothing, [...MIGRATIONS, second]));
    await expectRefused(path, 'HISTORY_NEWER');
  });

  it('stay as they were where a step fails', async () => {
    const path = await filledHistory(2);
    const broken: Migration = {
      to: 2,
      run: (connection) => {
        connection.exec('DROP TABLE event');
        throw new Error('a fault in the step');
      },
    };
    const opened = withHistory(path, 'write', nothing, [...MIGRATIONS, broken]);
    await expect(opened).rejects.toThrow('a fault in the step');
    expect(unwrap(await withHistory(path, 'read', (history) => listEntries(history)))).toHaveLength(
      2,
    );
  });

  it('are backed up again where another program wrote meanwhile', async () => {
    const path = await filledHistory(2);
    const other = await connect(path, 'rw');
    let runs = 0;
    const meddled: Migration = { to: 2, run: () => (runs += 1) };
    const migrations = [...MIGRATIONS, meddled];
    const opening = withHistory(path, 'write', nothing, migrations);
    const meddling = setInterval(() => {
      other.exec('UPDATE entry SET added_at = added_at || 1');
    }, 1);
    setTimeout(() => clearInterval(meddling), 60);
    unwrap(await opening);
    clearInterval(meddling);
    other.close();
    expect(runs).toBe(1);
    expect((await readdir(dirname(path))).filter((name) => name.includes('.part'))).toEqual([]);
    expect(await readdir(dirname(path))).toContain(`${basename(path)}.backup-v1`);
  });
});
