/** `gantrue report`: the report again, from a saved measurement. */

import { dirname } from 'node:path';
import { Command } from 'commander';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { jsonText } from './json-text.js';

export interface ReportOptions extends DisplayOptions {
  readonly out?: string;
  readonly force?: boolean;
}

export function buildReport(run: (measurement: string, options: ReportOptions) => Promise<void>) {
  const command = new Command('report')
    .description('write the report again from a saved measurement')
    .argument('<measurement>', 'measurement.json, or its folder')
    .option('--out <dir>', 'folder for the report (default: that of the measurement)')
    .option('--force', 'replace the report of an earlier run');
  return addDisplayOptions(command).action(run);
}

/** Fails: as reading the measurement and writing the report. */
export async function runReport(
  path: string,
  options: ReportOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const saved = await library.readMeasurement(path);
  if (!saved.ok) return saved;
  const { measurement, file } = saved.value;
  const outDir = options.out ?? dirname(file);
  const { force = false, units } = options;
  const written = await library.rewriteReport(measurement, file, outDir, { force, units });
  if (!written.ok) return written;
  streams.stdout.write(
    options.json
      ? jsonText(measurement)
      : library.summaryText(measurement, summaryOptions(options, streams)),
  );
  if (!options.quiet) streams.stderr.write(`wrote ${written.value.join(', ')}\n`);
  return library.success(0);
}
