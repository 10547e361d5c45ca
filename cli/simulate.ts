/** `gantrue simulate`: photos of a machine with chosen errors, and the truth beside them. */

import { Command, InvalidArgumentError, Option } from 'commander';
import type { MachineErrors, RandomSceneOptions } from '../samples/index.js';
import type { Stroke } from '../shared/stroke.js';
import type { Outcome } from '../src/index.js';
import { collectValues } from './collect-values.js';
import type { CommandContext } from './command-context.js';
import { jsonText } from './json-text.js';
import { startProgress } from './progress.js';

export interface SimulateOptions {
  readonly out: string;
  readonly seed: number;
  readonly program?: readonly string[];
  readonly lattice?: string;
  /** 8, or 1 of a turned board. */
  readonly photos?: number;
  /** Least and largest, degrees. */
  readonly tilt?: readonly [number, number];
  /** How far the board was turned between two programs, degrees. */
  readonly turn?: number;
  readonly photoSize: readonly [number, number];
  readonly gantryAxis: 'x' | 'y';
  /** mm/m. */
  readonly squareness?: number;
  readonly scaleX?: number;
  readonly scaleY?: number;
  /** mm. */
  readonly lostMotionX?: number;
  readonly lostMotionY?: number;
  readonly straightnessX?: number;
  readonly straightnessY?: number;
  /** Amplitude and period, mm. */
  readonly periodicX?: readonly [number, number];
  readonly periodicY?: readonly [number, number];
  /** From the first mark to the last, mm. */
  readonly driftX?: number;
  readonly driftY?: number;
  readonly force?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

export function buildSimulate(run: (options: SimulateOptions) => Promise<void>) {
  return new Command('simulate')
    .description('render photos of a machine with chosen errors; what is not chosen is drawn')
    .option('--out <dir>', 'folder for the photos', 'gantrue-simulated')
    .option('--seed <number>', 'the same seed and options give the same photos', wholeNumber, 1)
    .option(
      '--program <file>',
      'RS-274/NGC program that marks the grid (default: a grid of its own); twice: a board turned between the two',
      collectValues,
    )
    .option('--lattice <NXxNY,PITCHX,PITCHY>', 'size of its own grid, such as 19x13,50,50 (mm)')
    .option(
      '--photos <number>',
      'how many, each a quarter turn from the last (default: 8; 1 of a turned board)',
      photoCount,
    )
    .option(
      '--tilt <MIN,MAX>',
      'of the photos, degrees (default: 1,3; of a turned board 5,25)',
      tilts,
    )
    .option('--turn <degrees>', 'how far the board was turned, + to the left (default: 91.3)', turn)
    .option('--photo-size <WxH>', 'pixels', photoSize, [4000, 3000])
    .addOption(
      new Option('--gantry-axis <axis>', 'the axis along which the gantry travels')
        .choices(['x', 'y'])
        .default('y'),
    )
    .option('--squareness <mm/m>', '+: the Y axis leans toward +X', slope)
    .option('--scale-x <mm/m>', '+: X travels too far', slope)
    .option('--scale-y <mm/m>', '+: Y travels too far', slope)
    .option('--lost-motion-x <mm>', '+: X lags behind the command', length)
    .option('--lost-motion-y <mm>', '+: Y lags behind the command', length)
    .option('--straightness-x <mm>', 'bow of X motion, peak to valley', length)
    .option('--straightness-y <mm>', 'bow of Y motion, peak to valley', length)
    .option('--periodic-x <AMPLITUDE,PERIOD>', 'error of X that repeats with a turn, mm', wave)
    .option('--periodic-y <AMPLITUDE,PERIOD>', 'error of Y that repeats with a turn, mm', wave)
    .option('--drift-x <mm>', 'how far X creeps from the first mark to the last', length)
    .option('--drift-y <mm>', 'how far Y creeps from the first mark to the last', length)
    .option('--force', 'replace the photos of an earlier run')
    .option('--json', 'print the truth as JSON on standard output')
    .option('--quiet', 'no progress and no notes on standard error')
    .action(run);
}

/** Fails: as reading the program; OUTPUT_EXISTS; OUTPUT_UNWRITABLE. */
export async function runSimulate(
  options: SimulateOptions,
  { streams }: CommandContext,
): Promise<Outcome<number>> {
  const { Interrupted, success } = await import('../src/index.js');
  const { simulate } = await import('../samples/index.js');
  const { writeSimulated } = await import('./write-simulated.js');
  const marked = await chooseStrokes(options);
  if (!marked.ok) return marked;
  const { strokes, programText } = marked.value;
  const sceneOptions = await chooseScene(options, marked.value);
  const progress = startProgress(options.quiet === true, streams);
  try {
    const written = await writeSimulated(options, programText, (outDir, isHeld) =>
      simulate({
        strokes,
        seed: options.seed,
        outDir,
        options: sceneOptions,
        onPhoto: (file, done, total) => {
          if (isHeld()) throw new Interrupted();
          progress.show({ step: 'rendering', done, total, what: file });
        },
      }),
    );
    if (!written.ok) return written;
    progress.end();
    const { files, simulation } = written.value;
    streams.stdout.write(
      options.json
        ? jsonText({ ...simulation.truth, taped: [simulation.taped] })
        : `${files.join('\n')}\n--known "${simulation.known}"\n`,
    );
    return success(0);
  } finally {
    progress.end();
  }
}

interface Marked {
  readonly strokes: readonly Stroke[];
  /** What another program marked after the board had been turned. */
  readonly second?: readonly Stroke[];
  /** Of its own grid. */
  readonly programText: string | undefined;
}

async function chooseStrokes({
  program,
  lattice,
  turn,
}: SimulateOptions): Promise<Outcome<Marked>> {
  const { failed, latticeProgram, readProgramFile, success } = await import('../src/index.js');
  const { gridProgram } = await import('../samples/index.js');
  if (program !== undefined && program.length > 2) {
    return failed('WRONG_CALL', `--program was given ${program.length} times`, {
      hint: 'give one program, or the two of a turned board',
    });
  }
  if (turn !== undefined && program?.length !== 2) {
    return failed('WRONG_CALL', '--turn is of a board that two programs marked', {
      hint: 'give both with --program, or leave out --turn',
    });
  }
  if (program !== undefined && lattice !== undefined) {
    return failed('WRONG_CALL', '--program and --lattice exclude each other', {
      hint: 'give the program of the grid, or the size of one to be laid out',
    });
  }
  if (program !== undefined) {
    const read: (readonly Stroke[])[] = [];
    for (const name of program) {
      const one = await readProgramFile(name, { name, marking: 'auto', blockDelete: false });
      if (!one.ok) return one;
      read.push(one.value.strokes);
    }
    const [strokes, second] = read;
    return success({
      strokes: strokes!,
      ...(second === undefined ? {} : { second }),
      programText: undefined,
    });
  }
  if (lattice === undefined) {
    const { strokes, text } = gridProgram();
    return success({ strokes, programText: text });
  }
  const lines = latticeProgram(lattice);
  if (!lines.ok) return lines;
  const places = (axis: 0 | 1) =>
    lines.value
      .filter(({ fromMm, toMm }) => fromMm[axis] === toMm[axis])
      .map(({ fromMm }) => fromMm[axis]);
  const { strokes, text } = gridProgram({ xMm: places(0), yMm: places(1) });
  return success({ strokes, programText: text });
}

/** A board turned by hand misses a quarter turn by a degree or so. */
const USUAL_TURN_DEG = 91.3;
/** And comes to lie some millimetres off, mm. */
const USUAL_OFF_MM = [1.4, -0.9] as const;
/** The first photo of a turned board is held anyhow. */
const ANY_ROLL_DEG = 24;

/** Chosen errors hold over the grid's lines: what single lines add by chance is taken off again. */
async function chooseScene(
  options: SimulateOptions,
  { strokes, second }: Marked,
): Promise<Partial<RandomSceneOptions>> {
  const { machineTruth, randomScene, turnBoard } = await import('../samples/index.js');
  const [widthPx, heightPx] = options.photoSize;
  const isTurned = second !== undefined;
  const roll = isTurned ? ANY_ROLL_DEG : 0;
  const count = options.photos ?? (isTurned ? 1 : 8);
  const tiltDeg = options.tilt ?? (isTurned ? ([5, 25] as const) : undefined);
  const plan: Partial<RandomSceneOptions> = {
    widthPx,
    heightPx,
    gantryAxis: options.gantryAxis,
    rolls: Array.from({ length: count }, (_, i) => (roll + 90 * i) % 360),
    ...(tiltDeg === undefined ? {} : { tiltDeg }),
    ...(isTurned
      ? {
          second: turnBoard(strokes, second, {
            quarters: 1,
            offDeg: (options.turn ?? USUAL_TURN_DEG) - 90,
            offMm: USUAL_OFF_MM,
          }),
        }
      : {}),
  };
  const all = [...strokes, ...(second ?? [])];
  const drawn = randomScene(options.seed, strokes, plan).scene.machine;
  const bent: MachineErrors = {
    ...drawn,
    ...(options.driftX === undefined ? {} : { driftXMm: options.driftX }),
    ...(options.driftY === undefined ? {} : { driftYMm: options.driftY }),
    positionX: withWave(drawn.positionX, options.periodicX),
    positionY: withWave(drawn.positionY, options.periodicY),
    ...(options.straightnessX === undefined
      ? {}
      : { straightnessX: bow(drawn.straightnessX, options.straightnessX) }),
    ...(options.straightnessY === undefined
      ? {}
      : { straightnessY: bow(drawn.straightnessY, options.straightnessY) }),
  };
  const { scale, squareness } = machineTruth(bent, all);
  const shift = (value: number, asked: number | undefined, found: number) =>
    asked === undefined ? value : value + asked / 1000 - found;
  return {
    ...plan,
    machine: {
      ...bent,
      scaleX: shift(bent.scaleX, options.scaleX, scale.x),
      scaleY: shift(bent.scaleY, options.scaleY, scale.y),
      squarenessRad: shift(bent.squarenessRad, options.squareness, squareness),
      lostMotionXMm: options.lostMotionX ?? bent.lostMotionXMm,
      lostMotionYMm: options.lostMotionY ?? bent.lostMotionYMm,
    },
  };
}

/** The phase is of no account. */
function withWave(
  position: MachineErrors['positionX'],
  asked: readonly [number, number] | undefined,
): MachineErrors['positionX'] {
  if (asked === undefined) return position;
  const [amplitudeMm, periodMm] = asked;
  return { ...position, periodic: { amplitudeMm, periodMm, phaseRad: Math.PI / 4 } };
}

/** The second Legendre polynomial spans one and a half times its factor. */
function bow(curve: MachineErrors['straightnessX'], peakToValleyMm: number) {
  return { ...curve, legendre: [0, 0, peakToValleyMm / 1.5] };
}

function wholeNumber(text: string): number {
  const value = Number(text);
  if (!/^\d+$/.test(text) || !Number.isSafeInteger(value)) {
    throw new InvalidArgumentError('expected a whole number');
  }
  return value;
}

const MOST_PHOTOS = 64;

function photoCount(text: string): number {
  const value = wholeNumber(text);
  if (value < 1 || value > MOST_PHOTOS) {
    throw new InvalidArgumentError(`expected 1 to ${MOST_PHOTOS}`);
  }
  return value;
}

function photoSize(text: string): [number, number] {
  const match = /^(\d{3,5})[x×](\d{3,5})$/i.exec(text);
  if (match === null) throw new InvalidArgumentError('expected width x height, such as 4000x3000');
  return [Number(match[1]), Number(match[2])];
}

/** Farther, no whole grid is in view. */
const MOST_TILT_DEG = 50;

function tilts(text: string): [number, number] {
  const [least, most, ...more] = text.split(',').map((part) => Number(part.trim() || Number.NaN));
  if (!(least! >= 0 && least! <= most! && most! <= MOST_TILT_DEG) || more.length > 0) {
    throw new InvalidArgumentError(
      `expected least and largest tilt, 0 to ${MOST_TILT_DEG} degrees, such as 5,25`,
    );
  }
  return [least!, most!];
}

function turn(text: string): number {
  return numberWithin(text, 180, 'degrees');
}

/** Errors beyond this are no machine any more, and a slip in the unit. */
const MOST_SLOPE = 20;
const MOST_LENGTH_MM = 5;

function slope(text: string): number {
  return numberWithin(text, MOST_SLOPE, 'mm/m');
}

function length(text: string): number {
  return numberWithin(text, MOST_LENGTH_MM, 'mm');
}

function wave(text: string): [number, number] {
  const parts = text.split(',');
  const [amplitude, period] = parts.map((part) => (part.trim() === '' ? Number.NaN : Number(part)));
  const isPair = parts.length === 2 && Number.isFinite(amplitude) && Number.isFinite(period);
  if (!isPair || !(period! > 0)) {
    throw new InvalidArgumentError('expected amplitude and period in mm, such as 0.03,5');
  }
  return [amplitude!, period!];
}

function numberWithin(text: string, most: number, unit: string): number {
  const value = Number(text);
  if (text.trim() === '' || !(Math.abs(value) <= most)) {
    throw new InvalidArgumentError(`expected a number from -${most} to ${most} ${unit}`);
  }
  return value;
}
