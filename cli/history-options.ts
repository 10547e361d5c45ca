/** Options of every command that uses the history. */

import { type Command, InvalidArgumentError } from 'commander';

export interface HistoryOptions {
  readonly history?: string;
}

export function addHistoryOption(command: Command): Command {
  return command.option(
    '--history <file>',
    "file of the history (else the variable GANTRUE_HISTORY, else gantrue/history.db in your folder for programs' data)",
  );
}

/** For commander: a number within a range. */
export function numberBetween(least: number, most: number): (text: string) => number {
  return (text) => {
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (!(value >= least && value <= most)) {
      throw new InvalidArgumentError(`expected a number from ${least} to ${most}`);
    }
    return value;
  };
}

/** For commander: the number of an entry. */
export function entryNumber(text: string): number {
  if (!/^\d{1,15}$/.test(text) || Number(text) === 0) {
    throw new InvalidArgumentError('expected the number of an entry, as gantrue log list shows it');
  }
  return Number(text);
}
