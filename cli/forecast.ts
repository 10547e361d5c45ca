/** `gantrue forecast`: what uncertainty a grid, a camera and photos will reach, before anything is marked. */

import { Command, Option } from 'commander';
import type { Outcome } from '../src/index.js';
import { collectValues } from './collect-values.js';
import type { CommandContext } from './command-context.js';
import { addDisplayOptions, type DisplayOptions, summaryOptions } from './display-options.js';
import { exitCodeOfForecast } from './exit-code.js';
import { jsonText } from './json-text.js';
import { listMarkedBy } from './measure.js';
import { blockDeleteOption, markingOption } from './program-options.js';

export interface ForecastOptions extends DisplayOptions {
  readonly program?: readonly string[];
  readonly grid?: readonly string[];
  /** Of the board between two programs, degrees. */
  readonly turn?: string;
  readonly lattice?: string;
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: 'on' | 'off';
  readonly machine?: string;
  readonly photos?: string;
  readonly want?: readonly string[];
  readonly picture: string;
  readonly focal: string;
  readonly fill: string;
  readonly pixel?: string;
  readonly mark?: string;
  readonly tapeClass: 'I' | 'II' | 'III';
  readonly taped?: readonly string[];
  readonly square?: string;
  readonly check?: boolean;
}

export function buildForecast(run: (options: ForecastOptions) => Promise<void>) {
  const command = new Command('forecast')
    .description(
      'say what uncertainty a grid, a camera, photos and a tape will reach, before anything is marked or photographed; or which photos reach a wanted one most cheaply',
    )
    .option(
      '--program <file>',
      'RS-274/NGC program that will mark the grid; twice: a board that is turned between the two',
      collectValues,
    )
    .option(
      '--grid <file>',
      'instead: the record that gantrue plan wrote, plan.json; may be repeated as --program',
      collectValues,
    )
    .option('--lattice <NXxNY,PITCHX,PITCHY>', 'instead: a plain grid, such as 19x13,50,50 (mm)')
    .option(
      '--turn <degrees>',
      'how far the board is turned between two programs, + to the left (default: 90)',
    )
    .addOption(markingOption('how the program marks'))
    .addOption(blockDeleteOption('are'))
    .option('--machine <file>', 'machine file (YAML): gantry axis, leads of the drives')
    .option(
      '--photos <"COUNT KIND TILT, …">',
      'photos to be taken; kinds: overhead (each a quarter turn of the phone from the last), unturned (held the same way round), walked (tilted, round the board); tilt in degrees (default: "8 overhead 2"; of a turned board 1)',
    )
    .option(
      '--want <"QUANTITY U">',
      'instead of --photos: find the cheapest set that reaches this expanded uncertainty, such as "squareness 0.1" (mm/m; with --units in: inch per foot); may be repeated',
      collectValues,
    )
    .option('--picture <WxH>', 'size of the pictures in pixels, as the sensor lies', '4000x3000')
    .option(
      '--focal <length>',
      'focal length in pixels (3000px), as 35 mm equivalent (26mm), or unknown',
      '26mm',
    )
    .option('--fill <percent>', 'share of the picture that the grid fills', '86')
    .option(
      '--pixel <px>',
      'standard deviation with which a stretch of a mark is read in a photo (default: 0.01, of a turned board 0.04: as in the sample photos)',
    )
    .option(
      '--mark <length>',
      'standard deviation of the wander of a mark over such a stretch (default: 0.012 mm, of a turned board 0.006 mm: as in the sample photos)',
    )
    .option(
      '--taped <what>',
      'a length that will be taped: x, y, diagonals, or two commanded crossings "X1,Y1 X2,Y2"; may be repeated',
      collectValues,
    )
    .addOption(
      new Option('--tape-class <class>', 'accuracy class that is printed on the tape')
        .choices(['I', 'II', 'III'])
        .default('III'),
    )
    .option(
      '--square <"RUN U">',
      'a check with a square and an indicator: run along its leg and standard uncertainty of the deviation, such as "300 0.02"',
    )
    .option(
      '--check',
      'exit code 1 where no set reaches what is wanted; without --want 4 where a quantity of the machine would stay open',
    );
  return addDisplayOptions(command).action(run);
}

/** Fails: WRONG_CALL; as reading the files and the forecast. */
export async function runForecast(
  options: ForecastOptions,
  { streams, version }: CommandContext,
): Promise<Outcome<number>> {
  const library = await import('../src/index.js');
  const { parseForecast } = await import('./parse-forecast.js');
  if (options.lattice !== undefined && (options.program ?? options.grid) !== undefined) {
    return library.failed('WRONG_CALL', '--lattice stands for a grid that has no program', {
      hint: 'name the program or the plain grid; two programs are those of a board that is turned',
    });
  }
  const markedBy = await listMarkedBy({
    ...(options.program === undefined ? {} : { program: options.program }),
    ...(options.grid === undefined ? {} : { grid: options.grid }),
    ...(options.lattice === undefined ? {} : { lattice: [options.lattice] }),
  });
  if (!markedBy.ok) return markedBy;
  const parsed = parseForecast(options, markedBy.value.length > 1);
  if (!parsed.ok) return parsed;
  const machine =
    options.machine === undefined ? undefined : await library.readMachine(options.machine);
  if (machine !== undefined && !machine.ok) return machine;
  const foretold = await library.forecast(
    {
      ...parsed.value,
      markedBy: markedBy.value,
      marking: options.marking,
      blockDelete: options.blockDelete === 'on',
      ...(machine === undefined ? {} : { machine: machine.value }),
    },
    version,
  );
  if (!foretold.ok) return foretold;
  streams.stdout.write(
    options.json
      ? jsonText(foretold.value)
      : library.forecastText(foretold.value, summaryOptions(options, streams)),
  );
  return library.success(exitCodeOfForecast(foretold.value, options.check === true));
}
