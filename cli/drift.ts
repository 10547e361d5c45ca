/** `gantrue drift`: what the history says of a machine and its board. */

import { Command, Option } from 'commander';
import { TREND_KEYS } from '../shared/quantity-keys.js';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { addHistoryOption, type HistoryOptions } from './history-options.js';
import { jsonText } from './json-text.js';

export interface DriftCommandOptions extends DisplayOptions, HistoryOptions {
  readonly machineName?: string;
  readonly machine?: string;
  readonly all?: boolean;
  readonly quantity?: string;
  readonly since?: string;
  readonly check?: boolean;
}

export function buildDrift(run: (options: DriftCommandOptions) => Promise<void>): Command {
  const command = new Command('drift')
    .description(
      'say from the history what drifts, when it will leave its limit, and whether the machine or the board moved',
    )
    .option('--machine-name <name>', 'which machine, where the history has several')
    .option(
      '--machine <file>',
      'machine file (YAML): name, and limits instead of those in the history',
    )
    .option('--all', 'rank all machines, the one that needs you first')
    .addOption(
      new Option('--quantity <name>', 'plot this quantity (default: those that moved)').choices(
        TREND_KEYS,
      ),
    )
    .option('--since <day>', 'leave out what is older')
    .option('--check', 'exit code 1 where something drifts, jumped or is outside its limit');
  return addDisplayOptions(addHistoryOption(command)).action(run);
}

/** Fails: WRONG_CALL; ENTRY_MISSING; as opening the history and reading the machine file. */
export async function runDrift(
  options: DriftCommandOptions,
  { streams, now, version }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const { failed, success } = library;
  const { chooseMachine } = await import('./choose-machine.js');
  const { parseDate } = await import('./parse-date.js');
  const asOf = now();
  const since = parseDate(options.since, asOf, '--since');
  if (!since.ok) return since;
  const file =
    options.machine === undefined ? undefined : await library.readMachine(options.machine);
  if (file !== undefined && !file.ok) return file;
  const stated = options.machineName ?? file?.value.name;
  if (options.all === true && stated !== undefined) {
    return failed('WRONG_CALL', '--all ranks every machine: name none');
  }
  const path = library.historyPath(options.history, streams.env);
  const read = await library.withHistory(path, 'read', (history) => {
    const machine = options.all === true ? success(undefined) : chooseMachine(history, stated);
    if (!machine.ok) return machine;
    return library.listEntries(
      history,
      machine.value === undefined ? {} : { machine: machine.value },
    );
  });
  if (!read.ok) return read;
  const from = since.value?.toISOString();
  const rows = from === undefined ? read.value : read.value.filter(({ at }) => at >= from);
  const drifts = library.findDrifts(rows, { asOf, limits: definedOnly(file?.value.limits ?? {}) });
  if (options.json) {
    const result = {
      schema: 'gantrue/drift/1',
      tool: { name: 'gantrue', version },
      asOf: asOf.toISOString(),
      machines: drifts,
    };
    streams.stdout.write(jsonText(result));
  } else if (drifts.length === 0) {
    if (!options.quiet) streams.stderr.write('the history has nothing to tell yet\n');
  } else if (options.all === true) {
    streams.stdout.write(library.driftRankingText(drifts, summaryOptions(options, streams)));
  } else {
    const [drift] = drifts;
    const plots = namesToPlot(drift!, options.quantity)
      .flatMap((what) => library.plotDrift(rows, drift!, what))
      .filter(({ verdict }) => options.quantity !== undefined || hasMoved(verdict));
    streams.stdout.write(library.driftText(drift!, plots, summaryOptions(options, streams)));
  }
  const isMoving = drifts.some(({ urgency }) => urgency >= MACHINE_MOVES);
  return success(options.check === true && isMoving ? 1 : 0);
}

type Library = typeof import('../src/index.js');
type Drifts = ReturnType<Library['findDrifts']>;
type Name = Drifts[number]['series'][number]['quantities'][number]['what'];

/** Urgencies from here on: drifting, jumped, soon outside, outside. */
const MACHINE_MOVES = 1.5;
const MOST_PLOTS = 4;

function namesToPlot(drift: Drifts[number], asked: string | undefined): Name[] {
  if (asked !== undefined) return [asked as Name];
  const moved = drift.series
    .flatMap(({ quantities }) => quantities)
    .filter(({ verdict }) => hasMoved(verdict))
    .map(({ what }) => what);
  return [...new Set(moved)].slice(0, MOST_PLOTS);
}

function hasMoved(verdict: string | undefined): boolean {
  return verdict === 'drifts' || verdict === 'jumped' || verdict === 'scatters';
}

function definedOnly<T extends object>(record: T): { [K in keyof T]?: NonNullable<T[K]> } {
  return Object.fromEntries(
    Object.entries(record).filter(([, value]) => value !== undefined),
  ) as never;
}
