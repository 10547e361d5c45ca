/** The tables, and how an older file becomes the present one. */

import type { Connection } from './sqlite.js';

/** "gntr": by it a file of ours is known (sqlite.org/fileformat2.html, application ID). */
export const APPLICATION_ID = 0x676e7472;

export interface Migration {
  /** Version of the tables after it. */
  readonly to: number;
  readonly run: (connection: Connection) => void;
}

/**
 * In order, one version each. A released one is never changed: later ones are put behind it.
 *
 * `quantities` is JSON, { name: { value, u, unit, state } }: what trends are drawn from, read without opening
 * `body`, the whole measurement as deflated JSON (RFC 1951).
 */
export const MIGRATIONS: readonly Migration[] = [
  {
    to: 1,
    run: (connection) =>
      connection.exec(`
CREATE TABLE machine (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (name <> '')
);
CREATE TABLE entry (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  kind TEXT NOT NULL CHECK (kind IN ('measurement', 'event')),
  machine_id INTEGER NOT NULL REFERENCES machine (id),
  at TEXT NOT NULL,
  added_at TEXT NOT NULL,
  removed_at TEXT,
  notes TEXT
);
CREATE INDEX entry_by_time ON entry (machine_id, at);
CREATE TABLE measurement (
  entry_id INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
  marked_at TEXT,
  temperature_c REAL,
  humidity_percent REAL,
  board_id TEXT,
  board_material TEXT,
  marks TEXT NOT NULL CHECK (marks IN ('fresh', 'old', 'unknown')),
  hours REAL,
  settings TEXT CHECK (json_valid(settings)),
  limits TEXT CHECK (json_valid(limits)),
  program_sha256 TEXT,
  camera TEXT,
  quantities TEXT NOT NULL CHECK (json_valid(quantities))
);
CREATE TABLE measurement_body (
  entry_id INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
  body BLOB NOT NULL
);
CREATE TABLE event (
  entry_id INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
  event TEXT NOT NULL CHECK (event IN ('repair', 'settings', 'crash', 'board', 'note')),
  text TEXT NOT NULL CHECK (text <> '')
);`),
  },
];
