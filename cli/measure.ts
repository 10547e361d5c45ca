/** `gantrue measure`: photos and the program that marked the grid → what is wrong with the machine. */

import { availableParallelism } from 'node:os';
import { Command, InvalidArgumentError, Option } from 'commander';
import { QUANTITY_KEYS } from '../shared/quantity-keys.js';
import type { EvidenceFile } from '../shared/schemas/evidence.js';
import type { MachineFile } from '../shared/schemas/machine.js';
import type { KnownLength, MarkedBy, OriginCorner, Outcome } from '../src/index.js';
import { addCircumstancesOptions, type CircumstancesOptions } from './circumstances-options.js';
import { collectValues } from './collect-values.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import type { LoggedMeasurement } from './entry-of-measurement.js';
import { exitCodeOfMeasurement } from './exit-code.js';
import { addHistoryOption, type HistoryOptions } from './history-options.js';
import { addImagePointsOptions, type ImagePointsOptions } from './image-points-options.js';
import { jsonText } from './json-text.js';
import { blockDeleteOption, markingOption } from './program-options.js';
import { startProgress } from './progress.js';

export interface MeasureOptions
  extends DisplayOptions,
    ImagePointsOptions,
    HistoryOptions,
    CircumstancesOptions {
  readonly program?: readonly string[];
  readonly grid?: readonly string[];
  readonly lattice?: readonly string[];
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: 'on' | 'off';
  readonly machine?: string;
  readonly evidence?: string;
  readonly known?: readonly string[];
  readonly origin?: OriginCorner;
  readonly crossing?: readonly string[];
  readonly points?: readonly string[];
  readonly rectified?: boolean;
  readonly workers?: number;
  readonly photosOnly?: boolean;
  readonly out?: string;
  readonly force?: boolean;
  readonly check?: boolean;
  /** Keys of quantities; true: all. */
  readonly brief?: true | readonly string[];
  readonly log?: boolean;
}

const RESULT_FOLDER = 'gantrue-out';

export function buildMeasure(run: (photos: string[], options: MeasureOptions) => Promise<void>) {
  const command = new Command('measure')
    .description(
      'measure squareness, scale, lost motion and straightness from photos of a grid that the machine marked',
    )
    .argument('[photo...]', 'photos of the grid from above; a folder stands for the pictures in it')
    .option('--program <file>', 'RS-274/NGC program that marked the grid', collectValues)
    .option(
      '--grid <file>',
      'instead of its program: the record that gantrue plan wrote beside it, plan.json',
      collectValues,
    )
    .option(
      '--lattice <NXxNY,PITCHX,PITCHY>',
      'a plain grid whose program is lost, such as 19x13,50,50 (mm); tells nothing about lost motion',
      collectValues,
    )
    .addOption(markingOption('how the program marks'))
    .addOption(blockDeleteOption('were'))
    .option('--machine <file>', 'machine file (YAML): drives, limits, settings')
    .option(
      '--evidence <file>',
      'evidence file (YAML): taped lengths, rules, square checks, dates, climate',
    )
    .option(
      '--known <"X1,Y1 X2,Y2 LENGTH U">',
      'length taped between the marks of two commanded points and its standard uncertainty, in --units; may be repeated',
      collectValues,
    )
    .option(
      '--points <file>',
      'instead of photos or beside them: CSV x,y,X,Y,u of nodes measured otherwise, commanded and measured, mm; may be repeated',
      collectValues,
    )
    .addOption(
      new Option(
        '--origin <corner>',
        'corner of the pictures, as people see them, where the commanded origin lies; only where the program leaves it open',
      ).choices(['top-left', 'top-right', 'bottom-left', 'bottom-right']),
    )
    .option(
      '--crossing <"PHOTO COLUMN,ROW X,Y">',
      'where in a photo of a part of the grid the crossing commanded at X,Y (in --units) is seen: pixels of the upright picture from its top left corner; may be repeated',
      collectValues,
    )
    .option(
      '--brief [quantities]',
      'print one paragraph instead of the summary; only of these, such as squareness,scale.ratio',
      parseKeys,
    )
    .option('--rectified', 'also write each photo true to scale')
    .option(
      '--workers <count>',
      'photos examined at once, each by a thread of its own (default: as many as there are processor cores); 1 needs the least memory',
      parseWorkers,
    )
    .option(
      '--photos-only',
      'only a verdict on the photos and what to do better: nothing is measured, nothing is written',
    )
    .option('--out <dir>', `folder for the results (default: "${RESULT_FOLDER}")`)
    .option('--force', 'replace the results of an earlier run')
    .option(
      '--check',
      'exit code 1 where something is outside its limit, 4 where something is undetermined (with --photos-only: where the photos are not enough)',
    )
    .option('--log', 'also add the result to the history');
  addCircumstancesOptions(addHistoryOption(command), 'with --log: ');
  return addDisplayOptions(addImagePointsOptions(command)).action(run);
}

/** More would each wait for memory. */
const MOST_WORKERS = 64;

function parseWorkers(text: string): number {
  const count = Number(text);
  if (Number.isInteger(count) && count >= 1 && count <= MOST_WORKERS) return count;
  throw new InvalidArgumentError(`expected a whole number from 1 to ${MOST_WORKERS}`);
}

/** As many as asked for; else one for each core. */
export function countWorkers({ workers }: Pick<MeasureOptions, 'workers'>): number {
  return workers ?? Math.min(MOST_WORKERS, availableParallelism());
}

function parseKeys(text: string): string[] {
  const keys = text.split(',').map((key) => key.trim());
  const unknown = keys.find((key) => !QUANTITY_KEYS.some((one) => one === key));
  if (unknown !== undefined) {
    throw new InvalidArgumentError(
      `${unknown} is no quantity: expected some of ${QUANTITY_KEYS.join(',')}, or nothing behind --brief`,
    );
  }
  return keys;
}

/** Fails: as reading the files, the survey and the writing. */
export async function runMeasure(
  named: readonly string[],
  options: MeasureOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const {
    briefText,
    checkOutputFolder,
    failed,
    resultNames,
    success,
    summaryText,
    survey,
    surveyImagePoints,
    writeResults,
  } = await import('../src/index.js');
  const { settingsText } = await import('./settings-text.js');
  const { listPhotos } = await import('./list-photos.js');
  const { parseImagePoints } = await import('./parse-image-points.js');
  const imaged = parseImagePoints(named, options);
  if (!imaged.ok) return imaged;
  const isWithout = options.points === undefined && imaged.value === undefined;
  if (named.length === 0 && (isWithout || options.photosOnly)) {
    return failed('WRONG_CALL', 'photos are missing: expected files or a folder', {
      hint: 'name the photos of the grid; or nodes measured otherwise with --points FILE, or points found in photos by other software with --image-points FILE',
    });
  }
  const listed = await listPhotos(named);
  if (!listed.ok) return listed;
  const photos = listed.value;
  const { parseCrossings } = await import('./parse-crossing.js');
  const crossings = parseCrossings(options.crossing ?? [], options.units, photos);
  if (!crossings.ok) return crossings;
  if (options.photosOnly) {
    const { runPhotosOnly } = await import('./measure-photos-only.js');
    return runPhotosOnly(photos, crossings.value, options, context);
  }
  const out = options.out ?? RESULT_FOLDER;
  const read = await readInputs(options, photos.length > 0);
  if (!read.ok) return read;
  const { machine, evidence, known, markedBy } = read.value;
  const sourcePaths = [
    ...photos,
    ...(options.program ?? []),
    ...(options.grid ?? []),
    ...(options.points ?? []),
    ...[options.imagePoints, options.machine, options.evidence].filter(
      (path) => path !== undefined,
    ),
  ];
  const output = { force: options.force === true, sourcePaths };
  // Before minutes of work are spent on results that have no place.
  const place = await checkOutputFolder(out, resultNames(photos), output);
  if (!place.ok) return place;

  const logged = { machine, evidence };
  const history = options.log === true ? await prepareLog(logged, options, context) : undefined;
  if (history !== undefined && !history.ok) return history;

  const { streams } = context;
  const progress = startProgress(options.quiet === true, streams);
  try {
    const common = {
      markedBy,
      marking: options.marking,
      blockDelete: options.blockDelete === 'on',
      ...(machine === undefined ? {} : { machine }),
      ...(evidence === undefined ? {} : { evidence }),
      known,
    };
    const surroundings = {
      now: context.now,
      toolVersion: context.version,
      workers: countWorkers(options),
      onProgress: progress.show,
    };
    const surveyed =
      imaged.value === undefined
        ? await survey(
            {
              ...common,
              photoFiles: photos,
              ...(options.origin === undefined ? {} : { origin: options.origin }),
              crossings: crossings.value,
              pointsFiles: options.points ?? [],
            },
            surroundings,
          )
        : await surveyImagePoints({ ...common, ...imaged.value }, surroundings);
    if (!surveyed.ok) return surveyed;
    const written = await writeResults(surveyed.value, out, {
      ...output,
      rectified: options.rectified === true,
      units: options.units,
      onProgress: progress.show,
    });
    if (!written.ok) return written;
    progress.end();
    const { measurement, files } = written.value;
    const entry = await history?.value.add(measurement);
    const settings = await settingsText(machine, measurement.proposals);
    if (!settings.ok) return settings;
    streams.stdout.write(
      options.json
        ? jsonText(measurement)
        : options.brief === undefined
          ? summaryText(measurement, summaryOptions(options, streams)) + settings.value
          : briefText(
              measurement,
              summaryOptions(options, streams),
              options.brief === true ? undefined : options.brief,
            ),
    );
    if (!options.quiet) streams.stderr.write(`wrote ${files.length} files to ${out}\n`);
    if (entry !== undefined && !entry.ok) return entry;
    if (entry !== undefined && !options.quiet) {
      streams.stderr.write(`added to the history as number ${entry.value}\n`);
    }
    return success(exitCodeOfMeasurement(measurement, options.check === true));
  } finally {
    progress.end();
  }
}

/** The history is opened before minutes are spent, not only after them. */
async function prepareLog(
  logged: Pick<LoggedMeasurement, 'machine' | 'evidence'>,
  options: MeasureOptions,
  context: CommandContext,
) {
  const { prepareLogging } = await import('./log-measured.js');
  return prepareLogging(logged, options, context);
}

interface Inputs {
  readonly machine: MachineFile | undefined;
  readonly evidence: EvidenceFile | undefined;
  readonly known: readonly KnownLength[];
  readonly markedBy: readonly MarkedBy[];
}

async function readInputs(options: MeasureOptions, hasPhotos: boolean): Promise<Outcome<Inputs>> {
  const { readEvidence, readMachine, success } = await import('../src/index.js');
  const { parseKnown } = await import('./parse-known.js');
  const marked = await listMarkedBy(options, hasPhotos);
  if (!marked.ok) return marked;
  const markedBy = marked.value;
  const known: KnownLength[] = [];
  for (const text of options.known ?? []) {
    const parsed = parseKnown(text, options.units);
    if (!parsed.ok) return parsed;
    known.push(parsed.value);
  }
  const machine = options.machine === undefined ? undefined : await readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  const evidence =
    options.evidence === undefined ? undefined : await readEvidence(options.evidence);
  if (evidence !== undefined && !evidence.ok) return evidence;
  return success({ machine: machine?.value, evidence: evidence?.value, known, markedBy });
}

/**
 * Points by themselves may do without.
 *
 * Fails: WRONG_CALL where nothing says what marked the grid in the photos.
 */
export async function listMarkedBy(
  options: Pick<MeasureOptions, 'program' | 'grid' | 'lattice'>,
  hasPhotos = true,
): Promise<Outcome<MarkedBy[]>> {
  const { failed, success } = await import('../src/index.js');
  const markedBy: MarkedBy[] = [
    ...(options.program ?? []).map((file) => ({ kind: 'program' as const, file })),
    ...(options.grid ?? []).map((file) => ({ kind: 'grid' as const, file })),
    ...(options.lattice ?? []).map((spec) => ({ kind: 'lattice' as const, spec })),
  ];
  if (markedBy.length === 0 && hasPhotos) {
    return failed(
      'WRONG_CALL',
      'what marked the grid is missing: expected --program, --grid or --lattice',
      {
        hint: 'name the program that was sent to the machine: --program FILE; where it is lost, --lattice 19x13,50,50',
      },
    );
  }
  return success(markedBy);
}
