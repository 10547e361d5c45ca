/** `gantrue log export` and `gantrue log import`. */

import { basename, dirname } from 'node:path';
import type { Outcome } from '../src/index.js';
import {
  exportCsv,
  exportJson,
  historyPath,
  importEntries,
  listEntries,
  loadEntries,
  readExport,
  success,
  withHistory,
  writeNewFile,
} from '../src/index.js';
import { chooseMachine } from './choose-machine.js';
import type { CommandContext } from './command-context.js';
import type { DisplayOptions } from './display-options.js';
import type { HistoryOptions } from './history-options.js';
import { escapeJson, jsonText } from './json-text.js';

export interface ExportOptions extends HistoryOptions {
  readonly format: 'json' | 'csv';
  readonly machineName?: string;
  readonly out?: string;
  readonly force?: boolean;
  readonly quiet?: boolean;
}

export type ImportOptions = DisplayOptions & HistoryOptions;

/** Fails: as opening the history; ENTRY_MISSING; OUTPUT_EXISTS; OUTPUT_UNWRITABLE. */
export async function runExport(
  options: ExportOptions,
  { streams, now, version }: CommandContext,
): Promise<Outcome<number>> {
  const { format, machineName, out } = options;
  const file = historyPath(options.history, streams.env);
  const selection = machineName === undefined ? {} : { machine: machineName };
  const made = await withHistory(file, 'read', (history) => {
    if (machineName !== undefined) {
      const known = chooseMachine(history, machineName);
      if (!known.ok) return known;
    }
    if (format === 'csv') {
      const rows = listEntries(history, selection);
      return rows.ok ? success({ ...exportCsv(rows.value), count: rows.value.length }) : rows;
    }
    const entries = loadEntries(history, { ...selection, removed: 'too' });
    if (!entries.ok) return entries;
    const text = escapeJson(exportJson(entries.value, now(), version));
    return success({ text, tamed: 0, count: entries.value.length });
  });
  if (!made.ok) return made;
  const { text, tamed, count } = made.value;
  if (out === undefined) {
    streams.stdout.write(text);
  } else {
    const written = await writeNewFile(out, text, { force: options.force === true, never: [file] });
    if (!written.ok) return written;
  }
  if (!options.quiet) {
    const where = out === undefined ? '' : ` to ${basename(out)} in ${dirname(out)}`;
    streams.stderr.write(`wrote ${count} entries${where}\n`);
    if (tamed > 0) {
      streams.stderr.write(
        `${tamed} texts that a spreadsheet would run as a formula have an apostrophe before them\n`,
      );
    }
  }
  return success(0);
}

/** Fails: as reading the file and opening the history. */
export async function runImport(
  path: string,
  options: ImportOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const entries = await readExport(path);
  if (!entries.ok) return entries;
  const file = historyPath(options.history, streams.env);
  const imported = await withHistory(file, 'create', (history) =>
    success(importEntries(history, entries.value)),
  );
  if (!imported.ok) return imported;
  const { added, known } = imported.value;
  streams.stdout.write(
    options.json
      ? jsonText({ added, known, history: file })
      : `${added} entries added, ${known} were there already\n`,
  );
  return success(0);
}
