/** `gantrue report`: the report again, from a saved measurement or the saved result of a fixture. */

import { dirname } from 'node:path';
import { Command } from 'commander';
import type { Measurement } from '../shared/schemas/measurement.js';
import type { Outcome, ReportDrift, SavedFixture } from '../src/index.js';
import { collectValues } from './collect-values.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { addHistoryOption, type HistoryOptions } from './history-options.js';
import { jsonText } from './json-text.js';

export interface ReportOptions extends DisplayOptions, HistoryOptions {
  readonly out?: string;
  readonly force?: boolean;
  readonly fixture?: readonly string[];
  readonly overTime?: boolean;
  readonly machineName?: string;
}

export function buildReport(run: (result: string, options: ReportOptions) => Promise<void>) {
  const command = new Command('report')
    .description('write the report again from a saved measurement, or from that of a fixture')
    .argument('<result>', 'measurement.json or fixture.json, or its folder')
    .option('--out <dir>', 'folder for the report (default: that of the result)')
    .option(
      '--fixture <file>',
      'also a fixture that was looked at on this machine: fixture.json, or its folder',
      collectValues,
    )
    .option('--over-time', 'also what the history says of the machine')
    .option(
      '--machine-name <name>',
      'which machine of the history (default: that of the measurement)',
    )
    .option('--force', 'replace the report of an earlier run');
  return addDisplayOptions(addHistoryOption(command)).action(run);
}

/** Fails: as reading the result and writing the report; WRONG_CALL. */
export async function runReport(
  path: string,
  options: ReportOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const { streams } = context;
  const library = await import('../src/index.js');
  if (await library.isFixtureResult(path)) return reportFixture(path, options, context);
  const saved = await library.readMeasurement(path);
  if (!saved.ok) return saved;
  const { measurement, file, sha256 } = saved.value;
  const outDir = options.out ?? dirname(file);
  const { force = false, units } = options;
  const drift =
    options.overTime === true ? await readDrift(measurement, options, context) : undefined;
  if (drift?.ok === false) return drift;
  const fixtures: SavedFixture[] = [];
  for (const one of options.fixture ?? []) {
    const fixture = await library.readFixtureResult(one);
    if (!fixture.ok) return fixture;
    fixtures.push(library.besideMeasurement(fixture.value, sha256));
  }
  const written = await library.rewriteReport(measurement, file, outDir, {
    force,
    units,
    fixtures,
    ...(drift === undefined ? {} : { drift: drift.value }),
  });
  if (!written.ok) return written;
  streams.stdout.write(
    options.json
      ? jsonText(measurement)
      : [
          library.summaryText(measurement, summaryOptions(options, streams)),
          ...fixtures.map(({ result }) =>
            library.fixtureText(result, summaryOptions(options, streams)),
          ),
        ].join('\n'),
  );
  if (!options.quiet) streams.stderr.write(`wrote ${written.value.join(', ')}\n`);
  return library.success(0);
}

/** Fails: as reading the result and writing the report; WRONG_CALL. */
async function reportFixture(
  path: string,
  options: ReportOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  if (options.fixture !== undefined || options.overTime === true) {
    return library.failed(
      'WRONG_CALL',
      `${options.overTime === true ? '--over-time' : '--fixture'} belongs to the report of a measurement`,
      { hint: 'name the measurement.json first, or leave the option out' },
    );
  }
  const saved = await library.readFixtureResult(path);
  if (!saved.ok) return saved;
  const { result, file } = saved.value;
  const { force = false, units } = options;
  const outDir = options.out ?? dirname(file);
  const written = await library.rewriteFixtureReport(saved.value, outDir, { force, units });
  if (!written.ok) return written;
  streams.stdout.write(
    options.json ? jsonText(result) : library.fixtureText(result, summaryOptions(options, streams)),
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
