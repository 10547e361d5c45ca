/** Options about how things are shown, the same for every command. */

import { type Command, Option } from 'commander';
import type { SummaryOptions } from '../src/index.js';
import { columnsOf, type Streams } from './streams.js';

export interface DisplayOptions {
  readonly json?: boolean;
  readonly units: 'mm' | 'in';
  readonly quiet?: boolean;
  readonly color: boolean;
}

export function addDisplayOptions(command: Command): Command {
  return command
    .option('--json', 'print the result as JSON on standard output, and nothing else there')
    .addOption(
      new Option(
        '--units <unit>',
        'what people are shown and what lengths in options mean; slopes in inch are inch per foot. Files stay in mm',
      )
        .choices(['mm', 'in'])
        .default('mm'),
    )
    .option('--quiet', 'no progress and no notes on standard error')
    .option('--no-color', 'no colours (also: the variable NO_COLOR)');
}

/** Colour only for people at a terminal who did not decline (no-color.org: any non-empty value). */
export function summaryOptions(display: DisplayOptions, { stdout, env }: Streams): SummaryOptions {
  const declined = !display.color || (env.NO_COLOR ?? '') !== '';
  return {
    units: display.units,
    colour: stdout.isTTY === true && !declined && env.TERM !== 'dumb',
    width: columnsOf(stdout),
  };
}
