/** `gantrue propose`: corrections from a saved measurement, for a machine file. */

import { Command } from 'commander';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';

export interface ProposeOptions extends DisplayOptions {
  readonly machine: string;
  readonly evidence?: string;
}

export function buildPropose(run: (measurement: string, options: ProposeOptions) => Promise<void>) {
  const command = new Command('propose')
    .description('propose corrections, in order, with what to leave alone')
    .argument('<measurement>', 'measurement.json, or its folder')
    .requiredOption('--machine <file>', 'machine file (YAML): drives, limits, settings')
    .option('--evidence <file>', 'evidence file (YAML), where it has changed since');
  return addDisplayOptions(command).action(run);
}

/** Fails: as reading the files. */
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
  const proposals = library.proposeAgain(measurement, machine.value, evidence?.value);
  if (options.json) {
    const rendered = library.renderSettings(machine.value, proposals);
    if (!rendered.ok) return rendered;
    const result = {
      verdicts: library.judge(measurement, machine.value),
      proposals,
      cautions: library.cautions(proposals),
      ...(rendered.value === undefined ? {} : { settings: rendered.value }),
    };
    streams.stdout.write(`${JSON.stringify(result, undefined, 2)}\n`);
    return library.success(0);
  }
  const settings = settingsText(machine.value, proposals);
  if (!settings.ok) return settings;
  const text = library.proposalsText({ proposals }, summaryOptions(options, streams));
  streams.stdout.write(text + settings.value);
  return library.success(0);
}
