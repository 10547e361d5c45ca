/** `gantrue fixture`: where a fixture or the inserts really sit, and whether machine, board or fixture is off. */

import { Command, Option } from 'commander';
import type { FixtureRequest, FixtureSurvey, OriginCorner, Outcome } from '../src/index.js';
import { collectValues } from './collect-values.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { exitCodeOfFixture } from './exit-code.js';
import { jsonText } from './json-text.js';
import { blockDeleteOption, markingOption } from './program-options.js';
import { startProgress } from './progress.js';

export interface FixtureOptions extends DisplayOptions {
  readonly layout: string;
  readonly measurement?: string;
  readonly program?: readonly string[];
  readonly grid?: readonly string[];
  readonly lattice?: readonly string[];
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: 'on' | 'off';
  readonly machine?: string;
  readonly evidence?: string;
  readonly origin?: OriginCorner;
  readonly points?: string;
  readonly out?: string;
  readonly force?: boolean;
  readonly check?: boolean;
}

export function buildFixture(run: (photos: string[], options: FixtureOptions) => Promise<void>) {
  const command = new Command('fixture')
    .description('find where a fixture or its inserts really sit: machine, board or fixture?')
    .argument(
      '[photo...]',
      'photos of grid and fixture from above; a folder stands for the pictures in it',
    )
    .requiredOption(
      '--layout <file>',
      'layout of the fixture (YAML): features in machine coordinates',
    )
    .option(
      '--measurement <file>',
      'saved measurement of the machine (measurement.json, or its folder): its errors; without a program also how its own photos look at the board',
    )
    .option(
      '--program <file>',
      'RS-274/NGC program that marked the grid in these photos: it is measured along with the fixture',
      collectValues,
    )
    .option(
      '--grid <file>',
      'instead of its program: the record of its plan, plan.json',
      collectValues,
    )
    .option('--lattice <NXxNY,PITCHX,PITCHY>', 'a plain grid whose program is lost', collectValues)
    .addOption(markingOption('how the programs mark'))
    .addOption(blockDeleteOption('were'))
    .option('--machine <file>', 'machine file (YAML): drives, gantry')
    .option('--evidence <file>', 'evidence file (YAML) of the grid: taped lengths and rules')
    .addOption(
      new Option(
        '--origin <corner>',
        'corner of the pictures where the commanded origin lies; only where the program leaves it open',
      ).choices(['top-left', 'top-right', 'bottom-left', 'bottom-right']),
    )
    .option(
      '--points <file>',
      'instead of photos: CSV of features measured otherwise, name,x,y,u in machine coordinates or name,X,Y,u in true millimetres',
    )
    .option(
      '--out <dir>',
      'also write fixture.json, fixture.html and a picture per photo to this folder',
    )
    .option('--force', 'replace the result of an earlier run')
    .option(
      '--check',
      'exit code 1 where a feature is outside its tolerance, 4 where one cannot be told or was not found',
    );
  return addDisplayOptions(command).action(run);
}

/** Fails: as reading the files, the survey, looking for the features, and the writing. */
export async function runFixture(
  named: readonly string[],
  options: FixtureOptions,
  context: CommandContext,
): Promise<Outcome<number>> {
  const {
    checkOutputFolder,
    fixtureResultNames,
    fixtureText,
    success,
    surveyFixture,
    writeFixtureResults,
  } = await import('../src/index.js');
  const request = await readRequest(named, options);
  if (!request.ok) return request;
  const { out, units } = options;
  const photoFiles = request.value.survey?.photoFiles ?? request.value.photoFiles ?? [];
  const output = {
    force: options.force === true,
    units,
    sourcePaths: [
      ...photoFiles,
      ...(options.program ?? []),
      ...(options.grid ?? []),
      ...[options.layout, options.points, options.machine, options.evidence].filter(
        (path) => path !== undefined,
      ),
    ],
  };
  if (out !== undefined) {
    const place = await checkOutputFolder(out, fixtureResultNames(photoFiles), output);
    if (!place.ok) return place;
  }
  const { streams } = context;
  const progress = startProgress(options.quiet === true, streams);
  let looked: Outcome<FixtureSurvey>;
  try {
    looked = await surveyFixture(request.value, {
      now: context.now,
      toolVersion: context.version,
      onProgress: progress.show,
    });
  } finally {
    progress.end();
  }
  if (!looked.ok) return looked;
  let { result } = looked.value;
  if (out !== undefined) {
    const written = await writeFixtureResults(looked.value, out, output);
    if (!written.ok) return written;
    result = written.value.result;
    if (!options.quiet) streams.stderr.write(`wrote ${written.value.files.join(', ')}\n`);
  }
  streams.stdout.write(
    options.json ? jsonText(result) : fixtureText(result, summaryOptions(options, streams)),
  );
  return success(exitCodeOfFixture(result, options.check === true));
}

async function readRequest(
  named: readonly string[],
  options: FixtureOptions,
): Promise<Outcome<FixtureRequest>> {
  const library = await import('../src/index.js');
  const { failed, success } = library;
  const { listMarkedBy } = await import('./measure.js');
  const { listPhotos } = await import('./list-photos.js');
  const [program] = options.program ?? [];
  const blockDelete = options.blockDelete === 'on';
  const layout = await library.readLayout(options.layout, {
    ...(program === undefined ? {} : { program }),
    marking: options.marking,
    blockDelete,
  });
  if (!layout.ok) return layout;
  if (named.length > 0 && options.points !== undefined) {
    return failed('WRONG_CALL', 'photos and --points were both given', {
      hint: 'give the photos, or the points that stand instead of them',
    });
  }
  if (named.length === 0 && options.points === undefined) {
    return failed('WRONG_CALL', 'photos are missing: expected files or a folder', {
      hint: 'name photos of grid and fixture; or features measured otherwise with --points FILE',
    });
  }
  const saved =
    options.measurement === undefined
      ? undefined
      : await library.readMeasurement(options.measurement);
  if (saved !== undefined && !saved.ok) return saved;
  const common = {
    layout: layout.value,
    layoutFile: options.layout,
    ...(saved === undefined ? {} : { measurement: saved.value }),
  };
  if (options.points !== undefined) {
    const points = await library.readFixturePoints(options.points, layout.value);
    return points.ok ? success({ ...common, points: points.value }) : points;
  }
  const listed = await listPhotos(named);
  if (!listed.ok) return listed;
  const photoFiles = listed.value;
  const marked = await listMarkedBy(options, false);
  if (!marked.ok) return marked;
  if (marked.value.length === 0) return success({ ...common, photoFiles });
  const machine =
    options.machine === undefined ? undefined : await library.readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  const evidence =
    options.evidence === undefined ? undefined : await library.readEvidence(options.evidence);
  if (evidence !== undefined && !evidence.ok) return evidence;
  return success({
    ...common,
    survey: {
      photoFiles,
      markedBy: marked.value,
      marking: options.marking,
      blockDelete,
      known: [],
      ...(machine === undefined ? {} : { machine: machine.value }),
      ...(evidence === undefined ? {} : { evidence: evidence.value }),
      ...(options.origin === undefined ? {} : { origin: options.origin }),
    },
  });
}
