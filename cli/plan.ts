/** `gantrue plan`: lays out a grid and writes the program that marks it; or checks a program. */

import { Command, InvalidArgumentError, Option } from 'commander';
import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import type { MachineFile } from '../shared/schemas/machine.js';
import type { Outcome, PlanChoices } from '../src/index.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions } from './display-options.js';
import { jsonText } from './json-text.js';

const PLAN_FOLDER = 'gantrue-plan';

export interface PlanOptions extends DisplayOptions {
  readonly check?: string;
  readonly travel?: string;
  readonly machine?: string;
  readonly spacing?: string;
  readonly margin?: string;
  readonly marking?: 'auto' | 'laser' | 'cutter';
  readonly feed?: number;
  readonly power?: number;
  readonly depth?: string;
  readonly bitAngle: number;
  readonly form: 'flat' | 'parametric';
  readonly cellCodes?: boolean;
  readonly turned?: boolean;
  readonly freshCheck?: boolean;
  readonly inserts?: boolean;
  readonly insertEvery?: number;
  readonly hole?: string;
  readonly counterbore?: string;
  readonly toolDiameter?: string;
  readonly depthPerPass?: string;
  readonly blockDelete: 'on' | 'off';
  /** By default another one for plans than for checks. */
  readonly out?: string;
  readonly force?: boolean;
}

export function buildPlan(run: (options: PlanOptions) => Promise<void>) {
  const command = new Command('plan')
    .description(
      'lay out a grid that tells most about a machine and write the program that marks it; or say what a program would mark',
    )
    .option('--travel <WxH>', 'travel of the machine along X and Y, such as 900x600')
    .option(
      '--machine <file>',
      'machine file (YAML): travel, lead or travel per turn of the drives',
    )
    .option('--spacing <length>', 'of the lines (default: 50 mm or 2 in)')
    .option(
      '--margin <length>',
      'least distance of lines from the ends of the travel (default: 25 mm or 1 in)',
    )
    .addOption(
      new Option('--marking <how>', 'what marks; for --check also auto').choices([
        'laser',
        'cutter',
        'auto',
      ]),
    )
    .option('--feed <per minute>', 'feed of the marks, mm or inches per minute', positive)
    .option('--power <S>', 'S word of the marks: power of the beam, speed of the spindle', positive)
    .option('--depth <length>', 'depth of marks cut with a V-bit (default: 0.3 mm)')
    .option(
      '--bit-angle <degrees>',
      'included angle of the V-bit: for the width on the sheet',
      positive,
      60,
    )
    .addOption(
      new Option(
        '--form <form>',
        'flat: plain words that any controller reads; parametric: numbers at the top, loops and subroutines',
      )
        .choices(['flat', 'parametric'])
        .default('flat'),
    )
    .option('--cell-codes', 'ticks in some cells that say which cell it is, for large beds')
    .option(
      '--turned',
      'a pair of grids for a loose board that is turned a quarter turn between them',
    )
    .option(
      '--fresh-check',
      'fresh marks midway between the lines of an old grid of the same travel and spacing: tell whether machine or board changed',
    )
    .option('--inserts', 'also holes for threaded inserts, as a second stage; needs --hole')
    .option('--insert-every <lines>', 'an insert at every so many lines (default: 2)', positive)
    .option('--hole <DxDEPTH>', 'diameter and depth of the holes; not deeper than the board')
    .option('--counterbore <DxDEPTH>', 'wider hole for the flange of the insert')
    .option('--tool-diameter <length>', 'of the end mill for the holes (default: 6 mm)')
    .option('--depth-per-pass <length>', 'of the end mill (default: 2 mm)')
    .option(
      '--check <program>',
      'lay nothing out: say what this program would mark, what it can reveal, and draw it',
    )
    .addOption(
      new Option(
        '--block-delete <switch>',
        'for --check; on: lines that begin with / are not executed',
      )
        .choices(['on', 'off'])
        .default('off'),
    )
    .option(
      '--out <dir>',
      'folder for the files (default: gantrue-plan, for --check gantrue-check)',
    )
    .option('--force', 'replace the files of an earlier run');
  return addDisplayOptions(command).action(run);
}

/** Fails: as reading the files; WRONG_CALL; OUTPUT_EXISTS; OUTPUT_UNWRITABLE. */
export async function runPlan(
  options: PlanOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const { planFiles, readMachine, success, writeOutputFolder } = await import('../src/index.js');
  const machine = options.machine === undefined ? undefined : await readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  if (options.check !== undefined) {
    const { runCheck } = await import('./check-plan.js');
    return runCheck(options.check, options, machine?.value, context);
  }
  const out = options.out ?? PLAN_FOLDER;
  const choices = await readChoices(options, machine?.value);
  if (!choices.ok) return choices;
  const planned = planFiles(choices.value, { form: options.form, toolVersion: context.version });
  if (!planned.ok) return planned;
  const { files, records } = planned.value;
  const output = {
    force: options.force === true,
    sourcePaths: options.machine === undefined ? [] : [options.machine],
  };
  const written = await writeOutputFolder(out, files, output);
  if (!written.ok) return written;

  const { streams } = context;
  const sheet = files.find(({ name }) => name === 'cut-sheet.txt')!.content;
  streams.stdout.write(options.json ? jsonText(records) : sheet);
  if (!options.quiet) streams.stderr.write(`wrote ${files.length} files to ${out}\n`);
  return success(0);
}

async function readChoices(
  options: PlanOptions,
  machine: MachineFile | undefined,
): Promise<Outcome<PlanChoices>> {
  const { drivePeriods, failed, PLAN_DEFAULTS, success } = await import('../src/index.js');
  const { chooseTravel, parseLength, parsePair } = await import('./parse-sizes.js');
  const { units } = options;
  const perUnit = units === 'mm' ? 1 : MM_PER_INCH;
  const lengths: Record<string, number> = {};
  for (const [name, text] of Object.entries({
    spacing: options.spacing,
    margin: options.margin,
    depth: options.depth,
    'tool-diameter': options.toolDiameter,
    'depth-per-pass': options.depthPerPass,
  })) {
    if (text === undefined) continue;
    const parsed = parseLength(`--${name}`, text, units);
    if (!parsed.ok) return parsed;
    lengths[name] = parsed.value;
  }
  const travel = chooseTravel(options, machine);
  if (!travel.ok) return travel;
  const travelMm = travel.value;
  const pairs: Record<string, [number, number]> = {};
  for (const [name, text] of Object.entries({
    hole: options.hole,
    counterbore: options.counterbore,
  })) {
    if (text === undefined) continue;
    const parsed = parsePair(`--${name}`, text, units);
    if (!parsed.ok) return parsed;
    pairs[name] = parsed.value;
  }
  if (travelMm === undefined) {
    return failed('WRONG_CALL', 'the travel of the machine is missing', {
      hint: 'give --travel 900x600, or a machine file with `travel` (--machine)',
    });
  }
  const marking = options.marking ?? 'laser';
  if (marking === 'auto') {
    return failed('WRONG_CALL', '--marking auto is for --check alone', {
      hint: 'say laser or cutter',
    });
  }
  const isAboutInserts =
    pairs.counterbore !== undefined ||
    pairs.hole !== undefined ||
    options.insertEvery !== undefined;
  if (isAboutInserts && !options.inserts) {
    return failed('WRONG_CALL', 'sizes of holes were given without --inserts', {
      hint: 'add --inserts, or leave them out',
    });
  }
  if (options.freshCheck && (options.turned || options.inserts)) {
    return failed('WRONG_CALL', '--fresh-check excludes --turned and --inserts', {
      hint: 'fresh marks lie beside a grid that stands already: plan one thing at a time',
    });
  }
  if (options.inserts && options.turned) {
    return failed('WRONG_CALL', '--inserts and --turned exclude each other', {
      hint: 'a board that is turned to measure the machine carries no inserts',
    });
  }
  if (options.inserts && pairs.hole === undefined) {
    return failed('WRONG_CALL', '--inserts needs the size of the holes', {
      hint: 'give diameter and depth, such as --hole 8x16; not deeper than the board',
    });
  }
  const defaults = PLAN_DEFAULTS.inserts;
  return success({
    travelMm,
    spacingMm: lengths.spacing ?? PLAN_DEFAULTS[units].spacingMm,
    marginMm: lengths.margin ?? PLAN_DEFAULTS[units].marginMm,
    units,
    marking,
    feedMmPerMin:
      options.feed === undefined ? PLAN_DEFAULTS[marking].feedMmPerMin : options.feed * perUnit,
    power: options.power ?? PLAN_DEFAULTS[marking].power,
    depthMm: lengths.depth ?? PLAN_DEFAULTS.depthMm,
    bitAngleDeg: options.bitAngle,
    clearanceMm: PLAN_DEFAULTS.clearanceMm,
    plungeFeedMmPerMin: PLAN_DEFAULTS.plungeFeedMmPerMin,
    periodsMm: drivePeriods(machine),
    cellCodes: options.cellCodes === true,
    turned: options.turned === true,
    ...(options.freshCheck === true ? { fresh: true } : {}),
    ...(pairs.hole === undefined
      ? {}
      : {
          inserts: {
            ...defaults,
            every: options.insertEvery ?? defaults.every,
            holeDiameterMm: pairs.hole[0],
            holeDepthMm: pairs.hole[1],
            ...(pairs.counterbore === undefined
              ? {}
              : {
                  counterbore: { diameterMm: pairs.counterbore[0], depthMm: pairs.counterbore[1] },
                }),
            toolDiameterMm: lengths['tool-diameter'] ?? defaults.toolDiameterMm,
            depthPerPassMm: lengths['depth-per-pass'] ?? defaults.depthPerPassMm,
          },
        }),
  });
}

function positive(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value) || value <= 0) {
    throw new InvalidArgumentError('Expected a number above 0.');
  }
  return value;
}
