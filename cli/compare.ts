/** `gantrue compare`: did the correction work. */

import { Command } from 'commander';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { exitCodeOfComparison } from './exit-code.js';
import { jsonText } from './json-text.js';

export interface CompareOptions extends DisplayOptions {
  readonly check?: boolean;
  readonly force?: boolean;
}

export function buildCompare(
  run: (before: string, after: string, options: CompareOptions) => Promise<void>,
) {
  const command = new Command('compare')
    .description('compare two measurements: what changed, and whether that is what was proposed')
    .argument('<before>', 'measurement.json before the correction, or its folder')
    .argument('<after>', 'measurement.json of fresh marks after it, or its folder')
    .option(
      '--check',
      'exit with 1 where something moved the wrong way or is outside its limit, with 4 where it cannot be told whether a proposed correction worked',
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
  options: CompareOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
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
