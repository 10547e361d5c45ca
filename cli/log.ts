/** `gantrue log`: keeps measurements and events for years. */

import { Command, Option } from 'commander';
import { EVENT_KINDS, type EventKind } from '../shared/history-kinds.js';
import type { Outcome } from '../src/index.js';
import { addCircumstancesOptions } from './circumstances-options.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions } from './display-options.js';
import { addHistoryOption, entryNumber, numberBetween } from './history-options.js';
import type { AddOptions, EventOptions } from './log-add.js';
import type { ListOptions, RemoveOptions, ShowOptions } from './log-entries.js';
import type { ExportOptions, ImportOptions } from './log-transfer.js';

type Finish = (outcome: Promise<Outcome<number>>) => Promise<void>;

/** Each part is loaded when it is called. */
export function buildLog(finish: Finish, context: CommandContext): Command {
  const adding = () => import('./log-add.js');
  const entries = () => import('./log-entries.js');
  const transfer = () => import('./log-transfer.js');
  const log = new Command('log').description(
    'keep measurements and events (belt tightened, bed surfaced) in the history',
  );
  const part = (name: string, description: string) => {
    const command = new Command(name).description(description);
    log.addCommand(command);
    return addHistoryOption(command);
  };
  addDisplayOptions(
    addCircumstancesOptions(
      part('add', 'add a saved measurement')
        .argument('<measurement>', 'measurement.json, or its folder')
        .option('--machine <file>', 'machine file (YAML) that was in force: name, settings, limits')
        .option('--evidence <file>', 'evidence file (YAML): dates, climate, notes'),
    ),
  ).action((path: string, options: AddOptions) =>
    finish(adding().then(({ runAdd }) => runAdd(path, options, context))),
  );
  addDisplayOptions(
    part('event', 'note what happened to a machine; a trend ends there and a new one begins')
      .argument('<text>', 'such as "belt tightened"')
      .addOption(
        new Option(
          '--kind <kind>',
          'repair: anything done to the machine; settings: steps or offsets entered; crash: also moved; board: another or surfaced; note: nothing changed, trends go on',
        )
          .choices([...EVENT_KINDS])
          .default('repair' satisfies EventKind),
      )
      .option(
        '--date <day>',
        'when it happened, such as 2026-11-20 or "2026-11-20 14:30" (default: now)',
      )
      .option('--machine-name <name>', 'which machine, where the history has several')
      .option('--machine <file>', 'or its machine file (YAML)')
      .option('--notes <text>', 'whatever is worth remembering'),
  ).action((text: string, options: EventOptions) =>
    finish(adding().then(({ runEvent }) => runEvent(text, options, context))),
  );
  addDisplayOptions(
    part('list', 'list the entries, the newest last')
      .option('--machine-name <name>', 'of this machine only')
      .option('--latest <n>', 'so many of the newest (default: 20)', numberBetween(1, 1e9))
      .option('--all', 'every one')
      .option('--removed', 'those that were removed'),
  ).action((options: ListOptions) =>
    finish(entries().then(({ runList }) => runList(options, context))),
  );
  addDisplayOptions(
    part('show', 'show one entry').argument('<number>', 'as log list shows it', entryNumber),
  ).action((id: number, options: ShowOptions) =>
    finish(entries().then(({ runShow }) => runShow(id, options, context))),
  );
  addDisplayOptions(
    part('remove', 'take an entry out of lists and trends; log restore brings it back')
      .argument('<number>', 'as log list shows it', entryNumber)
      .option('--for-good', 'without a way back'),
  ).action((id: number, options: RemoveOptions) =>
    finish(entries().then(({ runRemove }) => runRemove(id, options, context))),
  );
  addDisplayOptions(
    part('restore', 'bring back a removed entry').argument(
      '<number>',
      'as log list --removed shows it',
      entryNumber,
    ),
  ).action((id: number, options: ShowOptions) =>
    finish(entries().then(({ runRestore }) => runRestore(id, options, context))),
  );
  part('export', 'write the history as text')
    .addOption(
      new Option(
        '--format <format>',
        'json: everything, also what was removed, for log import; csv: one row per entry for a spreadsheet, slopes in mm/m, lengths in mm, and an apostrophe before texts that it would run as a formula',
      )
        .choices(['json', 'csv'])
        .default('json'),
    )
    .option('--machine-name <name>', 'of this machine only')
    .option('--out <file>', 'into this file (default: standard output)')
    .option('--force', 'replace the file')
    .option('--quiet', 'no notes on standard error')
    .action((options: ExportOptions) =>
      finish(transfer().then(({ runExport }) => runExport(options, context))),
    );
  addDisplayOptions(
    part(
      'import',
      'add the entries of an export that are not there yet: all of them or none',
    ).argument('<file>', 'JSON that log export wrote'),
  ).action((path: string, options: ImportOptions) =>
    finish(transfer().then(({ runImport }) => runImport(path, options, context))),
  );
  return log;
}
