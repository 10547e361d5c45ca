/** What the history wants to know of a measurement besides its result. */

import { type Command, Option } from 'commander';
import { MARKS_AGES, type MarksAge } from '../shared/history-kinds.js';
import { numberBetween } from './history-options.js';

export interface CircumstancesOptions {
  readonly machineName?: string;
  readonly date?: string;
  readonly board?: string;
  readonly boardMaterial?: string;
  readonly marks?: MarksAge;
  readonly temperature?: number;
  readonly humidity?: number;
  readonly hours?: number;
  readonly notes?: string;
}

/** @param note put before each text, where the options serve one purpose among many. */
export function addCircumstancesOptions(command: Command, note = ''): Command {
  return command
    .option('--machine-name <name>', `${note}name of the machine, where the machine file has none`)
    .option(
      '--date <day>',
      `${note}when the photos were taken, where neither they nor the evidence say`,
    )
    .option('--board <id>', `${note}your name or number for the board`)
    .option('--board-material <name>', `${note}where the machine file does not say, such as mdf`)
    .addOption(
      new Option(
        '--marks <age>',
        `${note}fresh: made for this measurement; old: photographed again, they show what the board did (default: by the dates in the evidence)`,
      ).choices([...MARKS_AGES]),
    )
    .option(
      '--temperature <°C>',
      `${note}of the board, where the evidence does not say`,
      numberBetween(-50, 50),
    )
    .option(
      '--humidity <%>',
      `${note}relative, where the evidence does not say`,
      numberBetween(0, 100),
    )
    .option('--hours <h>', `${note}running hours of the machine`, numberBetween(0, 1e6))
    .option('--notes <text>', `${note}whatever is worth remembering`);
}
