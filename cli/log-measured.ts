/** `gantrue measure --log`. */

import type { Measurement } from '../shared/schemas/measurement.js';
import { addEntry, failed, historyPath, type Outcome, success, withHistory } from '../src/index.js';
import type { CircumstancesOptions } from './circumstances-options.js';
import type { CommandContext } from './command-context.js';
import { entryOfMeasurement, type LoggedMeasurement } from './entry-of-measurement.js';
import type { HistoryOptions } from './history-options.js';
import { parseDate } from './parse-date.js';

export interface Logging {
  /** @returns the entry's number. Fails: as opening the history. */
  readonly add: (measurement: Measurement) => Promise<Outcome<number>>;
}

/**
 * Looks whether a measurement could be added.
 *
 * Fails: WRONG_CALL; as opening the history.
 */
export async function prepareLogging(
  logged: Pick<LoggedMeasurement, 'machine' | 'evidence'>,
  options: CircumstancesOptions & HistoryOptions,
  { streams, now }: CommandContext,
): Promise<Outcome<Logging>> {
  const date = parseDate(options.date, now());
  if (!date.ok) return date;
  const name = options.machineName ?? logged.machine?.name ?? '';
  if (name.trim() === '') {
    return failed(
      'WRONG_CALL',
      '--log: nothing names the machine, and the history keeps machines apart by name',
      {
        hint: 'put `name` into the machine file (--machine), or say --machine-name',
      },
    );
  }
  const file = historyPath(options.history, streams.env);
  const opened = await withHistory(file, 'create', () => success(undefined));
  if (!opened.ok) return opened;
  return success({
    add: async (measurement) => {
      const entry = entryOfMeasurement({ ...logged, measurement }, options, now());
      if (!entry.ok) return entry;
      return withHistory(file, 'create', (history) => addEntry(history, entry.value));
    },
  });
}
