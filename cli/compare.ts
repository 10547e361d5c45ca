/** `gantrue compare`: did the correction work. */

import { Command } from 'commander';
import type { MeasurementFile, Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { exitCodeOfComparison, exitCodeOfRegions } from './exit-code.js';
import { jsonText } from './json-text.js';

export interface CompareOptions extends DisplayOptions {
  readonly check?: boolean;
  readonly force?: boolean;
  readonly regions?: boolean;
}

export function buildCompare(
  run: (
    before: string,
    after: string,
    more: readonly string[],
    options: CompareOptions,
  ) => Promise<void>,
) {
  const command = new Command('compare')
    .description('compare two measurements: what changed, and whether that is what was proposed')
    .argument('<before>', 'measurement.json before the correction, or its folder')
    .argument('<after>', 'measurement.json of fresh marks after it, or its folder')
    .argument('[more...]', 'with --regions: further measurements')
    .option(
      '--regions',
      'instead: measurements of several places of one bed, and whether they agree',
    )
    .option(
      '--check',
      'exit with 1 where something moved the wrong way or is outside its limit (with --regions: differs from place to place), with 4 where it cannot be told whether a proposed correction worked',
    )
    .option(
      '--force',
      'compare although the names of the machines, or the dates, speak against it',
    );
  return addDisplayOptions(command).action(run);
}

/** Fails: as reading the measurements; NOT_COMPARABLE. */
export async function runCompare(
  beforePath: string,
  afterPath: string,
  more: readonly string[],
  options: CompareOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  if (options.regions === true)
    return runRegions([beforePath, afterPath, ...more], options, streams);
  if (more.length > 0) {
    return library.failed('WRONG_CALL', `${more.length + 2} measurements: two are compared`, {
      hint: 'give the one before and the one after; for several places of one bed add --regions',
    });
  }
  const before = await library.readMeasurement(beforePath);
  if (!before.ok) return before;
  const after = await library.readMeasurement(afterPath);
  if (!after.ok) return after;
  const compared = library.compareMeasurements(before.value, after.value, options.force);
  if (!compared.ok) return compared;
  streams.stdout.write(
    options.json
      ? jsonText(compared.value)
      : library.comparisonText(compared.value, summaryOptions(options, streams)),
  );
  return library.success(exitCodeOfComparison(compared.value, options.check ?? false));
}

/** Fails: as reading the measurements; NOT_COMPARABLE. */
async function runRegions(
  paths: readonly string[],
  options: CompareOptions,
  streams: CommandContext['streams'],
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const files: MeasurementFile[] = [];
  for (const path of paths) {
    const read = await library.readMeasurement(path);
    if (!read.ok) return read;
    files.push(read.value);
  }
  const regions = library.compareRegions(files, options.force);
  if (!regions.ok) return regions;
  streams.stdout.write(
    options.json
      ? jsonText(regions.value)
      : library.regionsText(regions.value, summaryOptions(options, streams)),
  );
  return library.success(exitCodeOfRegions(regions.value, options.check ?? false));
}
