/** `gantrue report`: the report again, from a saved measurement. */

import { dirname } from 'node:path';
import { Command } from 'commander';
import type { Measurement } from '../shared/schemas/measurement.js';
import type { Outcome, ReportDrift } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { addHistoryOption, type HistoryOptions } from './history-options.js';
import { jsonText } from './json-text.js';

export interface ReportOptions extends DisplayOptions, HistoryOptions {
  readonly out?: string;
  readonly force?: boolean;
  readonly overTime?: boolean;
  readonly machineName?: string;
}

export function buildReport(run: (measurement: string, options: ReportOptions) => Promise<void>) {
  const command = new Command('report')
    .description('write the report again from a saved measurement')
    .argument('<measurement>', 'measurement.json, or its folder')
    .option('--out <dir>', 'folder for the report (default: that of the measurement)')
    .option('--over-time', 'also what the history says of the machine')
    .option(
      '--machine-name <name>',
      'which machine of the history (default: that of the measurement)',
    )
    .option('--force', 'replace the report of an earlier run');
  return addDisplayOptions(addHistoryOption(command)).action(run);
}

/** Fails: as reading the measurement and writing the report. */
export async function runReport(
  path: string,
  options: ReportOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const { streams } = context;
  const library = await import('../src/index.js');
  const saved = await library.readMeasurement(path);
  if (!saved.ok) return saved;
  const { measurement, file } = saved.value;
  const outDir = options.out ?? dirname(file);
  const { force = false, units } = options;
  const drift =
    options.overTime === true ? await readDrift(measurement, options, context) : undefined;
  if (drift?.ok === false) return drift;
  const written = await library.rewriteReport(measurement, file, outDir, {
    force,
    units,
    ...(drift === undefined ? {} : { drift: drift.value }),
  });
  if (!written.ok) return written;
  streams.stdout.write(
    options.json
      ? jsonText(measurement)
      : library.summaryText(measurement, summaryOptions(options, streams)),
  );
  if (!options.quiet) streams.stderr.write(`wrote ${written.value.join(', ')}\n`);
  return library.success(0);
}

/** Fails: as opening the history; ENTRY_MISSING. */
async function readDrift(
  measurement: Measurement,
  options: ReportOptions,
  { streams, now }: CommandContext,
): Promise<Outcome<ReportDrift>> {
  const library = await import('../src/index.js');
  const { chooseMachine } = await import('./choose-machine.js');
  const path = library.historyPath(options.history, streams.env);
  const read = await library.withHistory(path, 'read', (history) => {
    const machine = chooseMachine(history, options.machineName ?? measurement.machine);
    return machine.ok ? library.listEntries(history, { machine: machine.value }) : machine;
  });
  if (!read.ok) return read;
  const [drift] = library.findDrifts(read.value, { asOf: now() });
  if (drift === undefined) {
    return library.failed('ENTRY_MISSING', 'the history has nothing of this machine yet', {
      hint: 'add measurements with gantrue log add, or leave out --over-time',
    });
  }
  const names = new Set(
    drift.series.flatMap(({ quantities }) => quantities.map(({ what }) => what)),
  );
  const plots = [...names].flatMap((what) => library.plotDrift(read.value, drift, what));
  return library.success({ drift, plots });
}
