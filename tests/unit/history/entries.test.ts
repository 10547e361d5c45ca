import { describe, expect, it } from 'vitest';
import {
  addEntry,
  countEntries,
  eraseEntry,
  importEntries,
  listEntries,
  listMachines,
  loadEntries,
  loadEntry,
  type MeasurementRow,
  removeEntry,
  restoreEntry,
  withHistory,
} from '../../../src/history/index.js';
import { success, unwrap } from '../../../src/quantity/index.js';
import { makeMeasurement } from '../report/make-measurement.js';
import {
  addEvent,
  eventEntry,
  measurementEntry,
  NOW,
  newHistoryPath,
  read,
  write,
} from './make-history.js';

describe('an entry of the history', () => {
  it('comes back as it was added, circumstances, deviations and notes included', async () => {
    const path = await newHistoryPath();
    const entry = measurementEntry({
      boardId: 'A 7',
      boardMaterial: 'mdf',
      marks: 'fresh',
      temperature: 19.5,
      humidity: 48,
      hours: 310.5,
      notes: 'belt looks worn',
    });
    const id = await write(path, (history) => addEntry(history, entry));
    const back = await read(path, (history) => loadEntry(history, id));
    expect(back).toEqual(entry);
    expect(back).toMatchObject({
      machine: 'Test router',
      board: { id: 'A 7', material: 'mdf', marks: 'fresh' },
      humidity: 48,
      hours: 310.5,
      measurement: { deviations: makeMeasurement().deviations },
    });
  });

  it('of a measurement is listed with the values and standard uncertainties that were measured', async () => {
    const path = await newHistoryPath();
    await write(path, (history) => addEntry(history, measurementEntry()));
    const [row] = await read(path, (history) => listEntries(history));
    const { squareness, 'lostMotion.y': lost } = (row as MeasurementRow).quantities;
    expect(squareness).toEqual({ state: 'measured', value: 0.85e-3, u: 0.03e-3 });
    expect(lost).toEqual({ state: 'measured', value: 0.14, u: 0.003 });
  });

  it('is refused the second time, also when the keys of the file stand in another order', async () => {
    const path = await newHistoryPath();
    const entry = measurementEntry();
    const id = await write(path, (history) => addEntry(history, entry));
    const turned = Object.fromEntries(Object.entries(makeMeasurement()).reverse());
    const again = measurementEntry({ boardId: 'another' }, turned);
    const refused = await withHistory(path, 'write', (history) => addEntry(history, again));
    expect(refused.ok).toBe(false);
    if (refused.ok) return;
    expect(refused.failure.code).toBe('ENTRY_KNOWN');
    expect(refused.failure.message).toContain(`number ${id}`);
    expect(await read(path, (history) => success(countEntries(history)))).toBe(1);
  });

  it('that was removed leaves lists and counts, and comes back whole', async () => {
    const path = await newHistoryPath();
    const entry = measurementEntry();
    const id = await write(path, (history) => addEntry(history, entry));
    await write(path, (history) => removeEntry(history, id, NOW));
    expect(await read(path, (history) => listEntries(history))).toEqual([]);
    expect(await read(path, (history) => success(countEntries(history)))).toBe(0);
    const removed = await read(path, (history) => listEntries(history, { removed: 'only' }));
    expect(removed.map((row) => row.id)).toEqual([id]);
    await write(path, (history) => restoreEntry(history, id));
    expect(await read(path, (history) => loadEntry(history, id))).toEqual(entry);
    expect(await read(path, (history) => listEntries(history))).toHaveLength(1);
  });

  it('that was erased is gone with its body, and its number is never given again', async () => {
    const path = await newHistoryPath();
    const id = await write(path, (history) => addEntry(history, measurementEntry()));
    await write(path, (history) => eraseEntry(history, id));
    const left = await read(path, ({ connection }) =>
      success(
        ['entry', 'measurement', 'measurement_body'].map(
          (table) => connection.prepare(`SELECT count(*) AS n FROM ${table}`).all()[0]!.n,
        ),
      ),
    );
    expect(left).toEqual([0, 0, 0]);
    expect(await addEvent(path, 'bed surfaced')).toBe(id + 1);
  });

  it('of an unknown number is a failure that names it', async () => {
    const path = await newHistoryPath();
    await addEvent(path, 'bed surfaced');
    for (const action of [loadEntry, eraseEntry, restoreEntry]) {
      const result = await withHistory<unknown>(path, 'write', (history) => action(history, 7));
      expect(result.ok ? undefined : result.failure.code).toBe('ENTRY_MISSING');
    }
  });
});

describe('a list', () => {
  it('goes by the time of the photos, not of adding', async () => {
    const path = await newHistoryPath();
    const late = measurementEntry({ at: new Date('2026-03-01T10:00:00Z') });
    const early = measurementEntry(
      { at: new Date('2026-02-01T10:00:00Z') },
      { measuredAt: '2026-02-01T11:00:00.000Z' },
    );
    await write(path, (history) => success(importEntries(history, [late, early])));
    const rows = await read(path, (history) => listEntries(history));
    expect(rows.map(({ at }) => at.slice(0, 7))).toEqual(['2026-02', '2026-03']);
    const newest = await read(path, (history) => listEntries(history, { latest: 1 }));
    expect(newest.map(({ at }) => at.slice(0, 7))).toEqual(['2026-03']);
  });

  it('keeps machines apart', async () => {
    const path = await newHistoryPath();
    await write(path, (history) =>
      success(
        importEntries(history, [
          eventEntry('moved', 'Big one'),
          eventEntry('moved', 'Small one'),
          eventEntry('belt tightened', 'Small one'),
        ]),
      ),
    );
    expect(await read(path, (history) => success(listMachines(history)))).toEqual([
      'Big one',
      'Small one',
    ]);
    const rows = await read(path, (history) => listEntries(history, { machine: 'Small one' }));
    expect(rows).toHaveLength(2);
  });
});

describe('an import', () => {
  it('adds what is missing and nothing twice', async () => {
    const [from, to] = [await newHistoryPath(), await newHistoryPath()];
    await write(from, (history) => addEntry(history, measurementEntry()));
    await addEvent(from, 'belt tightened');
    const entries = await read(from, (history) => loadEntries(history, { removed: 'too' }));
    await write(to, (history) => addEntry(history, entries[0]!));
    const twice = [];
    for (const _ of [1, 2]) {
      twice.push(await write(to, (history) => success(importEntries(history, entries))));
    }
    expect(twice).toEqual([
      { added: 1, known: 1 },
      { added: 0, known: 2 },
    ]);
    expect(await read(to, (history) => loadEntries(history))).toEqual(entries);
  });

  it('that breaks in the middle adds nothing', async () => {
    const path = await newHistoryPath();
    await addEvent(path, 'bed surfaced');
    const bad = { ...eventEntry('later'), event: 'feast' as 'note' };
    const broken = withHistory(path, 'write', (history) =>
      success(importEntries(history, [eventEntry('first'), bad])),
    );
    await expect(broken).rejects.toThrow(/CHECK/);
    expect(unwrap(await withHistory(path, 'read', (history) => listEntries(history)))).toHaveLength(
      1,
    );
  });
});
