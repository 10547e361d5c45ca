/** `gantrue propose`: corrections from a saved measurement, for a machine file. */

import { Command, InvalidArgumentError } from 'commander';
import type { Measurement } from '../shared/schemas/measurement.js';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { jsonText } from './json-text.js';

export interface ProposeOptions extends DisplayOptions {
  readonly machine: string;
  readonly evidence?: string;
  /** Folder for the screw-error tables. */
  readonly tables?: string;
  readonly tableRows?: number;
  readonly tableLevel?: boolean;
  readonly force?: boolean;
}

export function buildPropose(run: (measurement: string, options: ProposeOptions) => Promise<void>) {
  const command = new Command('propose')
    .description('propose corrections, in order, with what to leave alone')
    .argument('<measurement>', 'measurement.json, or its folder')
    .requiredOption('--machine <file>', 'machine file (YAML): drives, limits, settings')
    .option(
      '--tables <dir>',
      'also write screw-error tables, table-x.csv and table-y.csv, to this folder',
    )
    .option(
      '--table-rows <number>',
      'most rows of a table; those stay from which the others are best interpolated',
      rowCount,
    )
    .option('--table-level', 'tables without the slope that new steps per unit take out')
    .option('--force', 'replace the tables of an earlier run')
    .option('--evidence <file>', 'evidence file (YAML), where it has changed since');
  return addDisplayOptions(command).action(run);
}

function rowCount(text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 2) {
    throw new InvalidArgumentError('expected a whole number of 2 or more');
  }
  return value;
}

/** Fails: as reading the files; WRONG_CALL, OUTPUT_EXISTS, OUTPUT_UNWRITABLE where tables are asked for. */
export async function runPropose(
  path: string,
  options: ProposeOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const { settingsText } = await import('./settings-text.js');
  const saved = await library.readMeasurement(path);
  if (!saved.ok) return saved;
  const machine = await library.readMachine(options.machine);
  if (!machine.ok) return machine;
  const evidence =
    options.evidence === undefined ? undefined : await library.readEvidence(options.evidence);
  if (evidence !== undefined && !evidence.ok) return evidence;

  const { measurement } = saved.value;
  if (options.tables !== undefined) {
    const written = await writeTables(measurement, options.tables, options);
    if (!written.ok) return written;
    if (!options.quiet) streams.stderr.write(`wrote ${written.value.join(', ')}\n`);
  }
  const findings = library.doubtMachine(measurement, machine.value);
  const proposals = library.proposeAgain(measurement, machine.value, evidence?.value);
  if (options.json) {
    const rendered = await library.renderSettings(machine.value, proposals);
    if (!rendered.ok) return rendered;
    const result = {
      verdicts: library.judge(measurement, machine.value),
      proposals,
      cautions: library.cautions(proposals),
      ...(findings.length === 0 ? {} : { findings }),
      ...(rendered.value === undefined ? {} : { settings: rendered.value }),
    };
    streams.stdout.write(jsonText(result));
    return library.success(0);
  }
  const settings = await settingsText(machine.value, proposals);
  if (!settings.ok) return settings;
  const text = library.proposalsText({ proposals, findings }, summaryOptions(options, streams));
  streams.stdout.write(text + settings.value);
  return library.success(0);
}

/** Actual minus commanded, 0 at the lowest line approached rising: the sign that a controller wants may be the other one. */
async function writeTables(
  measurement: Measurement,
  folder: string,
  { tableRows, tableLevel, force }: ProposeOptions,
): Promise<Outcome<string[]>> {
  const { errorTable, errorTableCsv, failed, success, writeOutputFolder } = await import(
    '../src/index.js'
  );
  const open = (['x', 'y'] as const).filter((axis) => measurement.scale[axis].state !== 'measured');
  if (open.length > 0 && tableLevel !== true) {
    return failed(
      'WRONG_CALL',
      `the scale of ${open.map((axis) => axis.toUpperCase()).join(' and ')} is not measured: a table would hold a slope that nobody knows`,
      {
        hint: 'tape a length and measure again, or write the tables without their slope: --table-level',
      },
    );
  }
  const files: { name: string; content: string }[] = [];
  for (const axis of ['x', 'y'] as const) {
    const table = errorTable(measurement.deviations, axis, {
      ...(tableRows === undefined ? {} : { rows: tableRows }),
      isLevel: tableLevel === true,
    });
    if (!table.ok) return table;
    files.push({ name: `table-${axis}.csv`, content: errorTableCsv(table.value) });
  }
  const written = await writeOutputFolder(folder, files, {
    force: force === true,
    sourcePaths: [],
  });
  return written.ok ? success(files.map(({ name }) => `${folder}/${name}`)) : written;
}
