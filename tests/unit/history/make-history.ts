/** Histories in folders of their own, for tests. */

import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import {
  addEntry,
  type Circumstances,
  type History,
  makeEventEntry,
  makeMeasurementEntry,
  withHistory,
} from '../../../src/history/index.js';
import { type Outcome, unwrap } from '../../../src/quantity/index.js';
import { makeMeasurement } from '../report/make-measurement.js';

export const NOW = new Date('2026-11-26T08:00:00Z');

/** A path in a new folder, which goes when the file's tests have ended. */
export async function newHistoryPath(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'gantrue-history-'));
  folders.push(folder);
  return join(folder, 'history.db');
}

const folders: string[] = [];
afterAll(async () => {
  for (const folder of folders) await rm(folder, { recursive: true, force: true });
});

export function measurementEntry(
  circumstances: Circumstances = {},
  changes: Partial<Measurement> = {},
) {
  return unwrap(
    makeMeasurementEntry({ measurement: makeMeasurement(changes), circumstances, now: NOW }),
  );
}

export function eventEntry(text: string, machine = 'Test router') {
  return unwrap(makeEventEntry({ machine, event: 'repair', text, at: NOW, now: NOW }));
}

export async function write<T>(path: string, action: (history: History) => Outcome<T>): Promise<T> {
  return unwrap(await withHistory(path, 'create', action));
}

export async function read<T>(path: string, action: (history: History) => Outcome<T>): Promise<T> {
  return unwrap(await withHistory(path, 'read', action));
}

export async function addEvent(path: string, text: string): Promise<number> {
  return write(path, (history) => addEntry(history, eventEntry(text)));
}
