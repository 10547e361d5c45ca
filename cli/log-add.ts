/** `gantrue log add` and `gantrue log event`. */

import type { EventKind } from '../shared/history-kinds.js';
import type { Outcome } from '../src/index.js';
import {
  addEntry,
  countEntries,
  doubtName,
  failed,
  historyPath,
  localTime,
  makeEventEntry,
  plainText,
  readEvidence,
  readMachine,
  readMeasurement,
  success,
  withHistory,
} from '../src/index.js';
import { chooseMachine } from './choose-machine.js';
import type { CircumstancesOptions } from './circumstances-options.js';
import type { CommandContext } from './command-context.js';
import type { DisplayOptions } from './display-options.js';
import { entryOfMeasurement } from './entry-of-measurement.js';
import type { HistoryOptions } from './history-options.js';
import { jsonText } from './json-text.js';
import { parseDate } from './parse-date.js';

export interface AddOptions extends DisplayOptions, HistoryOptions, CircumstancesOptions {
  readonly machine?: string;
  readonly evidence?: string;
}

export interface EventOptions extends DisplayOptions, HistoryOptions {
  readonly kind: EventKind;
  readonly date?: string;
  readonly machineName?: string;
  readonly machine?: string;
  readonly notes?: string;
}

/** Fails: as reading the files, WRONG_CALL, ENTRY_KNOWN, and as opening the history. */
export async function runAdd(
  path: string,
  options: AddOptions,
  { streams, now }: CommandContext,
): Promise<Outcome<number>> {
  const saved = await readMeasurement(path);
  if (!saved.ok) return saved;
  const machine = options.machine === undefined ? undefined : await readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  const evidence =
    options.evidence === undefined ? undefined : await readEvidence(options.evidence);
  if (evidence !== undefined && !evidence.ok) return evidence;
  const { measurement } = saved.value;
  const [doubt] = doubtName(measurement.machine, machine?.value.name);
  if (doubt !== undefined && options.machineName === undefined) {
    return failed('WRONG_CALL', plainText(doubt.message), {
      where: options.machine,
      hint: 'give the file of the machine that was measured; where it has a new name, say which one counts with --machine-name',
    });
  }
  const told = { measurement, machine: machine?.value, evidence: evidence?.value };
  const entry = entryOfMeasurement(told, options, now());
  if (!entry.ok) return entry;
  const file = historyPath(options.history, streams.env);
  const added = await withHistory(file, 'create', (history) => addEntry(history, entry.value));
  if (!added.ok) return added;
  const { machine: name, at, board } = entry.value;
  const result = { id: added.value, machine: name, at, marks: board.marks, history: file };
  streams.stdout.write(
    options.json
      ? jsonText(result)
      : `added as number ${added.value}: ${plainText(name)}, photographed ${localTime(at)}, ${MARKS[board.marks]}\n`,
  );
  if (board.marks === 'unknown' && !options.quiet) {
    streams.stderr.write(
      'whether these marks were fresh is not known: say --marks fresh or old, or give the evidence file its `marked` and `taken` dates\n',
    );
  }
  return success(0);
}

const MARKS = { fresh: 'fresh marks', old: 'old marks', unknown: 'marks of unknown age' } as const;

/** Fails: WRONG_CALL; ENTRY_MISSING; as reading the machine file and opening the history. */
export async function runEvent(
  text: string,
  options: EventOptions,
  { streams, now }: CommandContext,
): Promise<Outcome<number>> {
  const added = now();
  const at = parseDate(options.date, added);
  if (!at.ok) return at;
  const machine = options.machine === undefined ? undefined : await readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  const stated = options.machineName ?? machine?.value.name;
  const file = historyPath(options.history, streams.env);
  const access = stated === undefined ? 'write' : 'create';
  const done = await withHistory(file, access, (history) => {
    const name = stated === undefined ? chooseMachine(history, undefined) : success(stated);
    if (!name.ok) return name;
    if (name.value === undefined) {
      return failed('WRONG_CALL', 'which machine did this happen to?', {
        hint: 'say --machine-name; the history knows none yet',
      });
    }
    const entry = makeEventEntry({
      machine: name.value,
      event: options.kind,
      text,
      at: at.value ?? added,
      now: added,
      ...(options.notes === undefined ? {} : { notes: options.notes }),
    });
    if (!entry.ok) return entry;
    const isNew = countEntries(history, name.value) === 0;
    const id = addEntry(history, entry.value);
    return id.ok ? success({ id: id.value, entry: entry.value, isNew }) : id;
  });
  if (!done.ok) return done;
  const { id, entry, isNew } = done.value;
  if (isNew && !options.quiet) {
    streams.stderr.write(
      `the history had nothing of ${plainText(entry.machine)} before: if the name was mistyped, gantrue log remove ${id}\n`,
    );
  }
  const result = { id, machine: entry.machine, at: entry.at, event: entry.event, history: file };
  streams.stdout.write(
    options.json
      ? jsonText(result)
      : `added as number ${id}: ${plainText(entry.machine)}, ${localTime(entry.at)}, ${entry.event}: ${plainText(entry.text)}\n`,
  );
  return success(0);
}
