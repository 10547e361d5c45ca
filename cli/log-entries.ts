/** `gantrue log list`, `show`, `remove` and `restore`. */

import type { Outcome } from '../src/index.js';
import {
  countEntries,
  eraseEntry,
  type History,
  historyEntryText,
  historyListText,
  historyPath,
  listEntries,
  loadEntry,
  removeEntry,
  restoreEntry,
  success,
  withHistory,
} from '../src/index.js';
import { chooseMachine } from './choose-machine.js';
import type { CommandContext } from './command-context.js';
import { type DisplayOptions, summaryOptions } from './display-options.js';
import type { HistoryOptions } from './history-options.js';
import { jsonText } from './json-text.js';

export interface ListOptions extends DisplayOptions, HistoryOptions {
  readonly machineName?: string;
  readonly latest?: number;
  readonly all?: boolean;
  readonly removed?: boolean;
}

export type ShowOptions = DisplayOptions & HistoryOptions;

export interface RemoveOptions extends ShowOptions {
  readonly forGood?: boolean;
}

/** More than a screen is asked for by name. */
const USUAL_LATEST = 20;

/** Fails: as opening the history; ENTRY_MISSING. */
export async function runList(
  options: ListOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const { machineName, latest, all, removed, json } = options;
  const most =
    all === true || (json === true && latest === undefined) ? undefined : (latest ?? USUAL_LATEST);
  const found = await withHistory(historyPath(options.history, streams.env), 'read', (history) => {
    // A slip in a name is not an empty history.
    if (machineName !== undefined && removed !== true) {
      const known = chooseMachine(history, machineName);
      if (!known.ok) return known;
    }
    const rows = listEntries(history, {
      ...(machineName === undefined ? {} : { machine: machineName }),
      ...(most === undefined ? {} : { latest: Math.floor(most) }),
      ...(removed === true ? { removed: 'only' } : {}),
    });
    if (!rows.ok) return rows;
    const inAll = removed === true ? rows.value.length : countEntries(history, machineName);
    return success({ rows: rows.value, inAll });
  });
  if (!found.ok) return found;
  const { rows, inAll } = found.value;
  if (json) {
    streams.stdout.write(jsonText({ entries: rows }));
  } else if (rows.length > 0) {
    streams.stdout.write(historyListText(rows, inAll, summaryOptions(options, streams)));
  } else if (!options.quiet) {
    streams.stderr.write(removed ? 'nothing was removed\n' : 'the history is empty\n');
  }
  return success(0);
}

/** Fails: ENTRY_MISSING; as opening the history. */
export async function runShow(
  id: number,
  options: ShowOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const entry = await withHistory(historyPath(options.history, streams.env), 'read', (history) =>
    loadEntry(history, id),
  );
  if (!entry.ok) return entry;
  streams.stdout.write(
    options.json
      ? jsonText({ id, ...entry.value })
      : historyEntryText(id, entry.value, summaryOptions(options, streams)),
  );
  return success(0);
}

/** Fails: ENTRY_MISSING; as opening the history. */
export async function runRemove(
  id: number,
  options: RemoveOptions,
  { streams, now }: CommandContext,
): Promise<Outcome<number>> {
  return change(id, options, streams, 'removed', (history) =>
    options.forGood === true ? eraseEntry(history, id) : removeEntry(history, id, now()),
  );
}

/** Fails: ENTRY_MISSING; as opening the history. */
export async function runRestore(
  id: number,
  options: ShowOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  return change(id, options, streams, 'restored', (history) => restoreEntry(history, id));
}

async function change(
  id: number,
  options: RemoveOptions,
  streams: CommandContext['streams'],
  done: 'removed' | 'restored',
  action: (history: History) => Outcome<undefined>,
): Promise<Outcome<number>> {
  const changed = await withHistory(historyPath(options.history, streams.env), 'write', action);
  if (!changed.ok) return changed;
  const back =
    done === 'removed' && options.forGood !== true
      ? `; gantrue log restore ${id} brings it back`
      : '';
  streams.stdout.write(
    options.json ? jsonText({ id, [done]: true }) : `entry ${id} ${done}${back}\n`,
  );
  return success(0);
}
