/** Arguments → the command's run function → an exit code. */

import { Command, CommanderError } from 'commander';
import { EXIT } from '../shared/failure-codes.js';
import type { Outcome } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { buildCompare, runCompare } from './compare.js';
import { buildCompensate, runCompensate } from './compensate.js';
import { buildDrift, runDrift } from './drift.js';
import { exitCodeOfFailure } from './exit-code.js';
import { buildFixture, runFixture } from './fixture.js';
import { buildForecast, runForecast } from './forecast.js';
import { guardStreams } from './guard-streams.js';
import { buildLog } from './log.js';
import { buildMeasure, runMeasure } from './measure.js';
import { buildPlan, runPlan } from './plan.js';
import { printFailure, printFault } from './print-failure.js';
import { buildPropose, runPropose } from './propose.js';
import { buildReport, runReport } from './report.js';
import { buildSimulate, runSimulate } from './simulate.js';

/**
 * Runs the tool.
 *
 * @param args without program and script.
 * @returns the exit code; never throws.
 */
export async function runCli(
  args: readonly string[],
  { streams, ...surroundings }: CommandContext,
): Promise<number> {
  const context = { ...surroundings, streams: guardStreams(streams) };
  let exitCode: number = EXIT.done;
  const finish = async (outcome: Promise<Outcome<number>>) => {
    const settled = await outcome;
    if (settled.ok) {
      exitCode = settled.value;
      return;
    }
    printFailure(settled.failure, context.streams);
    exitCode = exitCodeOfFailure(settled.failure);
  };
  const program = buildProgram(context, [
    buildMeasure((photos, options) => finish(runMeasure(photos, options, context))),
    buildPlan((options) => finish(runPlan(options, context))),
    buildForecast((options) => finish(runForecast(options, context))),
    buildPropose((path, options) => finish(runPropose(path, options, context))),
    buildCompensate((path, options) => finish(runCompensate(path, options, context))),
    buildLog(finish, context),
    buildDrift((options) => finish(runDrift(options, context))),
    buildCompare((before, after, more, options) =>
      finish(runCompare(before, after, more, options, context)),
    ),
    buildFixture((photos, options) => finish(runFixture(photos, options, context))),
    buildReport((path, options) => finish(runReport(path, options, context))),
    buildSimulate((options) => finish(runSimulate(options, context))),
  ]);
  try {
    await program.parseAsync([...args], { from: 'user' });
    return exitCode;
  } catch (thrown) {
    if (thrown instanceof CommanderError) return thrown.exitCode === 0 ? EXIT.done : EXIT.wrongCall;
    printFault(thrown, context.version, context.streams);
    return EXIT.fault;
  }
}

function buildProgram({ streams, version }: CommandContext, commands: readonly Command[]): Command {
  const program = new Command('gantrue')
    .description(
      'reads what is wrong with a gantry router from photos of a grid that it marked on its own bed',
    )
    .version(version);
  for (const command of commands) program.addCommand(command);
  const parts = commands.flatMap((command) => command.commands);
  for (const command of [program, ...commands, ...parts]) {
    command.exitOverride().configureOutput({
      writeOut: (text) => streams.stdout.write(text),
      writeErr: (text) => streams.stderr.write(text),
      outputError: (text, write) => write(describeWrongCall(text, command)),
      getOutHelpWidth: () => streams.stdout.columns ?? HELP_COLUMNS,
      getErrHelpWidth: () => streams.stderr.columns ?? HELP_COLUMNS,
      getOutHasColors: () => false,
      getErrHasColors: () => false,
    });
  }
  return program;
}

const HELP_COLUMNS = 90;

/** The same form as every other failure. */
function describeWrongCall(text: string, command: Command): string {
  const names = [];
  for (let one: Command | null = command; one !== null; one = one.parent) names.unshift(one.name());
  const name = names.join(' ');
  const message = text
    .trim()
    .replace(/^error: /, '')
    .replace(/\. (\w)/g, (_, letter: string) => `; ${letter.toLowerCase()}`)
    .replace(/\.$/, '');
  const [first, ...further] = message.split('\n');
  return [
    `gantrue: ${first} [WRONG_CALL]`,
    ...further.map((line) => `  ${line}`),
    `  hint: ${name} --help lists what there is`,
    '',
  ].join('\n');
}
