/** Options on how a program is read, the same for every command that reads one. */

import { Option } from 'commander';

/** @param meaning as help shows it. */
export function markingOption(meaning: string): Option {
  return new Option('--marking <how>', meaning)
    .choices(['auto', 'cutter', 'laser'])
    .default('auto');
}

/** @param executed of the lines, in help: were, or are, not executed. */
export function blockDeleteOption(executed: 'are' | 'were'): Option {
  return new Option(
    '--block-delete <switch>',
    `on: lines that begin with / ${executed} not executed`,
  )
    .choices(['on', 'off'])
    .default('off');
}
