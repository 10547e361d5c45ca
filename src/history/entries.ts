/** Entries in the history: added, listed, loaded, removed and brought back. */

import { deflateRawSync, inflateRawSync } from 'node:zlib';
import type { EventKind, MarksAge } from '../../shared/history-kinds.js';
import {
  type HistoryEntry,
  historyEntrySchema,
  type Limits,
  type MeasurementEntry,
} from '../../shared/schemas/history.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { listQuantities, type StoredQuantities } from './list-quantities.js';
import type { History } from './open-history.js';
import { damagedHistory, firstValue, inTransaction, type SqlValue } from './sqlite.js';

interface RowCore {
  /** In this file. */
  readonly id: number;
  readonly machine: string;
  readonly at: string;
  readonly removedAt?: string;
  readonly notes?: string;
}

export interface MeasurementRow extends RowCore {
  readonly kind: 'measurement';
  readonly markedAt?: string;
  /** °C, % relative humidity. */
  readonly temperature?: number;
  readonly humidity?: number;
  readonly board: { readonly id?: string; readonly material?: string; readonly marks: MarksAge };
  readonly hours?: number;
  readonly settings?: Readonly<Record<string, number>>;
  readonly limits?: Limits;
  readonly camera?: string;
  readonly programSha256?: string;
  readonly quantities: StoredQuantities;
}

export interface EventRow extends RowCore {
  readonly kind: 'event';
  readonly event: EventKind;
  readonly text: string;
}

/** What lists and trends need; the whole measurement stays on the disk. */
export type HistoryRow = MeasurementRow | EventRow;

/**
 * Adds one entry; when this returns it is on the disk.
 *
 * @returns its number in this file.
 * Fails: ENTRY_KNOWN.
 */
export function addEntry(history: History, entry: HistoryEntry): Outcome<number> {
  return inTransaction(history.connection, () => {
    const known = findUid(history, entry.uid);
    if (known === undefined) return success(insertEntry(history, entry));
    return failed(
      'ENTRY_KNOWN',
      known.isRemoved
        ? `this measurement is in the history as number ${known.id}, but removed`
        : `this measurement is in the history already, as number ${known.id}`,
      {
        where: history.path,
        hint: known.isRemoved
          ? `gantrue log restore ${known.id} brings it back`
          : `to add it with other circumstances: gantrue log remove ${known.id} --for-good first`,
      },
    );
  });
}

export interface Imported {
  readonly added: number;
  /** Were there before, by their identity. */
  readonly known: number;
}

/** Adds the entries that are not there yet: all or, on trouble, none. */
export function importEntries(history: History, entries: readonly HistoryEntry[]): Imported {
  return inTransaction(history.connection, () => {
    let added = 0;
    for (const entry of entries) {
      if (findUid(history, entry.uid) !== undefined) continue;
      insertEntry(history, entry);
      added += 1;
    }
    return { added, known: entries.length - added };
  });
}

export interface Selection {
  readonly machine?: string;
  /** Newest only, as many. */
  readonly latest?: number;
  /** Also or only what was removed; without it neither. */
  readonly removed?: 'too' | 'only';
}

/** Oldest first. Fails: HISTORY_DAMAGED. */
export function listEntries(history: History, selection: Selection = {}): Outcome<HistoryRow[]> {
  const { machine, latest, removed } = selection;
  const conditions = [
    ...(removed === 'too' ? [] : [`e.removed_at IS ${removed === 'only' ? 'NOT ' : ''}NULL`]),
    ...(machine === undefined ? [] : ['m.name = ?']),
  ];
  const where = conditions.length === 0 ? '' : `WHERE ${conditions.join(' AND ')}`;
  const rows = history.connection
    .prepare(
      `${SELECT_ROWS} ${where} ORDER BY e.at DESC, e.id DESC ${latest === undefined ? '' : 'LIMIT ?'}`,
    )
    .raw()
    .all(...(machine === undefined ? [] : [machine]), ...(latest === undefined ? [] : [latest]));
  return readingDamage(history, () => rows.reverse().map(readRow));
}

/** Live entries in all, of one machine or of every one. */
export function countEntries(history: History, machine?: string): number {
  const condition = machine === undefined ? '' : 'AND m.name = ?';
  return Number(
    firstValue(
      history.connection,
      `SELECT count(*) FROM entry e JOIN machine m ON m.id = e.machine_id WHERE e.removed_at IS NULL ${condition}`,
      ...(machine === undefined ? [] : [machine]),
    ),
  );
}

/** Names of the machines that have live entries, by the alphabet. */
export function listMachines(history: History): string[] {
  return history.connection
    .prepare(
      'SELECT name FROM machine m WHERE EXISTS (SELECT 1 FROM entry WHERE machine_id = m.id AND removed_at IS NULL) ORDER BY name',
    )
    .raw()
    .all()
    .map(([name]) => String(name));
}

/** The whole entry, removed or not. Fails: ENTRY_MISSING; HISTORY_DAMAGED. */
export function loadEntry(history: History, id: number): Outcome<HistoryEntry> {
  const found = loadWhere(history, 'WHERE e.id = ?', [id]);
  if (!found.ok) return found;
  const [entry] = found.value;
  return entry === undefined ? missingEntry(history, id) : success(entry);
}

/** Every entry, whole, oldest first. Fails: HISTORY_DAMAGED. */
export function loadEntries(
  history: History,
  { machine, removed }: Pick<Selection, 'machine' | 'removed'> = {},
): Outcome<HistoryEntry[]> {
  const conditions = [
    ...(removed === 'too' ? [] : [`e.removed_at IS ${removed === 'only' ? 'NOT ' : ''}NULL`]),
    ...(machine === undefined ? [] : ['m.name = ?']),
  ];
  return loadWhere(
    history,
    conditions.length === 0 ? '' : `WHERE ${conditions.join(' AND ')}`,
    machine === undefined ? [] : [machine],
  );
}

/**
 * Marks as removed; nothing is lost.
 *
 * Fails: ENTRY_MISSING.
 */
export function removeEntry(history: History, id: number, at: Date): Outcome<undefined> {
  return changeEntry(history, id, 'UPDATE entry SET removed_at = ? WHERE id = ?', [
    at.toISOString(),
    id,
  ]);
}

/** Fails: ENTRY_MISSING. */
export function restoreEntry(history: History, id: number): Outcome<undefined> {
  return changeEntry(history, id, 'UPDATE entry SET removed_at = NULL WHERE id = ?', [id]);
}

/** Without a way back. Fails: ENTRY_MISSING. */
export function eraseEntry(history: History, id: number): Outcome<undefined> {
  return changeEntry(history, id, 'DELETE FROM entry WHERE id = ?', [id]);
}

function changeEntry(
  history: History,
  id: number,
  sql: string,
  values: readonly SqlValue[],
): Outcome<undefined> {
  return inTransaction(history.connection, () => {
    const { changes } = history.connection.prepare(sql).run(...values);
    return changes === 0 ? missingEntry(history, id) : success(undefined);
  });
}

function missingEntry(history: History, id: number) {
  return failed('ENTRY_MISSING', `the history has no entry number ${id}`, {
    where: history.path,
    hint: 'gantrue log list shows the numbers, with --removed also those that were removed',
  });
}

function findUid(history: History, uid: string): { id: number; isRemoved: boolean } | undefined {
  const [row] = history.connection
    .prepare('SELECT id, removed_at FROM entry WHERE uid = ?')
    .raw()
    .all(uid);
  return row === undefined ? undefined : { id: Number(row[0]), isRemoved: row[1] !== null };
}

function insertEntry({ connection }: History, entry: HistoryEntry): number {
  connection
    .prepare('INSERT INTO machine (name) VALUES (?) ON CONFLICT (name) DO NOTHING')
    .run(entry.machine);
  const machineId = firstValue(connection, 'SELECT id FROM machine WHERE name = ?', entry.machine)!;
  const { uid, kind, at, addedAt, removedAt, notes } = entry;
  const id = Number(
    connection
      .prepare(
        'INSERT INTO entry (uid, kind, machine_id, at, added_at, removed_at, notes) VALUES (?, ?, ?, ?, ?, ?, ?)',
      )
      .run(uid, kind, machineId, at, addedAt, removedAt ?? null, notes ?? null).lastInsertRowid,
  );
  if (entry.kind === 'event') {
    connection
      .prepare('INSERT INTO event (entry_id, event, text) VALUES (?, ?, ?)')
      .run(id, entry.event, entry.text);
  } else {
    insertMeasurement({ connection }, id, entry);
  }
  return id;
}

function insertMeasurement(
  { connection }: Pick<History, 'connection'>,
  id: number,
  entry: MeasurementEntry,
): void {
  const { markedAt, temperature, humidity, board, hours, settings, limits, measurement } = entry;
  const json = (value: unknown) => (value === undefined ? null : JSON.stringify(value));
  connection
    .prepare('INSERT INTO measurement VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)')
    .run(
      id,
      markedAt ?? null,
      temperature ?? null,
      humidity ?? null,
      board.id ?? null,
      board.material ?? null,
      board.marks,
      hours ?? null,
      json(settings),
      json(limits),
      measurement.placements[0]?.sha256 ?? null,
      nameCamera(measurement) ?? null,
      JSON.stringify(listQuantities(measurement)),
    );
  connection
    .prepare('INSERT INTO measurement_body VALUES (?, ?)')
    .run(id, deflateRawSync(JSON.stringify(measurement)));
}

/** What stands between two cameras when a trend is doubted. */
function nameCamera({ camera }: Measurement): string | undefined {
  const [first] = camera;
  const name = [first?.make, first?.model].filter((part) => part !== undefined).join(' ');
  return name === '' ? undefined : name;
}

const SELECT_ROWS = `SELECT e.id, m.name, e.at, e.removed_at, e.notes, e.kind, v.event, v.text,
  r.marked_at, r.temperature_c, r.humidity_percent, r.board_id, r.board_material, r.marks, r.hours, r.settings,
  r.limits, r.camera, r.program_sha256, r.quantities, e.uid, e.added_at
FROM entry e JOIN machine m ON m.id = e.machine_id
LEFT JOIN measurement r ON r.entry_id = e.id LEFT JOIN event v ON v.entry_id = e.id`;

/** Assigned one by one, not spread: a long history has a hundred thousand rows. */
function readRow(row: readonly SqlValue[]): HistoryRow {
  const core: Mutable<RowCore> = {
    id: Number(row[0]),
    machine: String(row[1]),
    at: String(row[2]),
  };
  if (row[3] !== null) core.removedAt = String(row[3]);
  if (row[4] !== null) core.notes = String(row[4]);
  if (row[5] === 'event') {
    const event: Mutable<EventRow> = core as Mutable<EventRow>;
    event.kind = 'event';
    event.event = row[6] as EventKind;
    event.text = String(row[7]);
    return event;
  }
  const board: Mutable<MeasurementRow['board']> = { marks: row[13] as MarksAge };
  if (row[11] !== null) board.id = String(row[11]);
  if (row[12] !== null) board.material = String(row[12]);
  const measurement: Mutable<MeasurementRow> = core as Mutable<MeasurementRow>;
  measurement.kind = 'measurement';
  measurement.board = board;
  if (row[8] !== null) measurement.markedAt = String(row[8]);
  if (row[9] !== null) measurement.temperature = Number(row[9]);
  if (row[10] !== null) measurement.humidity = Number(row[10]);
  if (row[14] !== null) measurement.hours = Number(row[14]);
  if (row[15] !== null) measurement.settings = JSON.parse(String(row[15]));
  if (row[16] !== null) measurement.limits = JSON.parse(String(row[16]));
  if (row[17] !== null) measurement.camera = String(row[17]);
  if (row[18] !== null) measurement.programSha256 = String(row[18]);
  measurement.quantities = JSON.parse(String(row[19]));
  return measurement;
}

type Mutable<T> = { -readonly [K in keyof T]: T[K] };

function loadWhere(
  history: History,
  where: string,
  values: readonly SqlValue[],
): Outcome<HistoryEntry[]> {
  const rows = history.connection
    .prepare(
      SELECT_ROWS.replace('\nFROM', ', b.body\nFROM') +
        ` LEFT JOIN measurement_body b ON b.entry_id = e.id ${where} ORDER BY e.at, e.id`,
    )
    .raw()
    .all(...values);
  return readingDamage(history, () => rows.map(readWhole));
}

function readWhole(row: readonly SqlValue[]): HistoryEntry {
  const { id, quantities, camera, programSha256, ...told } = readRow(row) as MeasurementRow;
  const body = row[22];
  return historyEntrySchema.parse({
    ...told,
    uid: row[20],
    addedAt: row[21],
    ...(body instanceof Uint8Array
      ? { measurement: JSON.parse(inflateRawSync(body).toString('utf8')) }
      : {}),
  });
}

/** What was written whole is read whole; anything else is damage that the database itself does not see. */
function readingDamage<T>(history: History, read: () => T): Outcome<T> {
  try {
    return success(read());
  } catch (cause) {
    return {
      ok: false,
      failure: damagedHistory(history.path, 'an entry cannot be read', cause),
    };
  }
}
