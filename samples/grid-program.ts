/**
 * The program that marks a grid: RS-274/NGC text for a laser in dynamic power mode, and the strokes
 * that the text means.
 *
 * Every line is marked in two parts, one reached from the - side of the axis across it and one from
 * the + side; which part is which alternates from line to line, so that lost motion and straightness
 * can be told apart.
 */

import type { Approach, Stroke } from '../shared/stroke.js';

export interface GridProgramOptions {
  /** Commanded positions of the lines at constant X and at constant Y; mm, ascending, 3 or more. */
  readonly xMm: readonly number[];
  readonly yMm: readonly number[];
  /** How far lines go beyond the outermost crossings; mm. */
  readonly overhangMm: number;
  /** Run of the last move before a line and along it before and after the mark; mm. */
  readonly overrunMm: number;
  readonly feedMmPerMin: number;
  /** Power word during the marks. */
  readonly power: number;
  readonly title: string;
}

export interface GridProgram {
  readonly text: string;
  readonly strokes: Stroke[];
}

/** Feed and power burn a fine line in MDF with a diode laser of some watts (from memory). */
export const GRID_PROGRAM_DEFAULTS: GridProgramOptions = {
  xMm: evenPositions(25, 30),
  yMm: evenPositions(17, 30),
  overhangMm: 6,
  overrunMm: 8,
  feedMmPerMin: 1500,
  power: 600,
  title: 'bed grid',
};

/** Positions 0, pitch, 2 pitch, ... */
export function evenPositions(count: number, pitchMm: number): number[] {
  return Array.from({ length: count }, (_, i) => i * pitchMm);
}

/**
 * Positions whose intervals alternate about the pitch, so that an error with the period of a screw or
 * a pinion does not meet every line at one phase.
 */
export function unevenPositions(count: number, pitchMm: number): number[] {
  const positions = [0];
  for (let i = 1; i < count; i++) {
    const interval = pitchMm * (1 + [0.1, -0.06, 0.03, -0.07][i % 4]!);
    positions.push(Math.round((positions[i - 1]! + interval) * 10) / 10);
  }
  return positions;
}

/** Writes the program and lists its marks in the order of marking. */
export function gridProgram(options: Partial<GridProgramOptions> = {}): GridProgram {
  const plan = { ...GRID_PROGRAM_DEFAULTS, ...options };
  const writer = createWriter(plan);
  writeHeader(writer, plan);
  writer.comment('origin mark: an arrow toward the origin, one tick along X, two ticks along Y');
  for (const mark of originMark(plan)) writer.mark(mark);
  writer.comment('lines at constant X');
  for (const mark of halfLines(plan, 0)) writer.mark(mark);
  writer.comment('lines at constant Y');
  for (const mark of halfLines(plan, 1)) writer.mark(mark);
  writer.line('M5 S0');
  writer.line(`G0 X${word(plan.xMm[0]!)} Y${word(plan.yMm[0]!)}`);
  writer.line('M2');
  return { text: writer.text(), strokes: writer.strokes };
}

interface PlannedMark {
  readonly fromMm: readonly [number, number];
  readonly toMm: readonly [number, number];
  /** Sense of the last motion across a line, for lines along an axis. */
  readonly across: 1 | -1;
}

/**
 * The two parts of each line. They meet in the middle of a cell, where a step shows best, and that
 * cell is the one before or after the middle in turn.
 */
function halfLines(plan: GridProgramOptions, axis: 0 | 1): PlannedMark[] {
  const lines = axis === 0 ? plan.xMm : plan.yMm;
  const crossing = axis === 0 ? plan.yMm : plan.xMm;
  const from = crossing[0]! - plan.overhangMm;
  const to = crossing[crossing.length - 1]! + plan.overhangMm;
  const middle = Math.floor((crossing.length - 1) / 2);
  return lines.flatMap((position, line) => {
    const cell = line % 4 < 2 ? middle : Math.max(0, middle - 1);
    const meeting = rounded((crossing[cell]! + crossing[cell + 1]!) / 2);
    const first = line % 2 === 0 ? 1 : -1;
    const point = (along: number): [number, number] =>
      axis === 0 ? [position, along] : [along, position];
    return [
      { fromMm: point(from), toMm: point(meeting), across: first },
      { fromMm: point(meeting), toMm: point(to), across: -first as 1 | -1 },
    ];
  });
}

/** Outside the grid near its origin; it looks different after every turn and in a mirror. */
function originMark(plan: GridProgramOptions): PlannedMark[] {
  const x = plan.xMm[0]!;
  const y = plan.yMm[0]!;
  const near = plan.overhangMm + 5;
  return [
    { fromMm: [x - near - 15, y - near - 15], toMm: [x - near, y - near], across: 1 },
    { fromMm: [x - near - 7, y - near], toMm: [x - near, y - near], across: 1 },
    { fromMm: [x - near, y - near - 7], toMm: [x - near, y - near], across: 1 },
    { fromMm: [x + 8, y - near - 3], toMm: [x + 24, y - near - 3], across: 1 },
    { fromMm: [x - near - 3, y + 8], toMm: [x - near - 3, y + 24], across: 1 },
    { fromMm: [x - near - 8, y + 8], toMm: [x - near - 8, y + 24], across: 1 },
  ];
}

interface ProgramWriter {
  readonly strokes: Stroke[];
  line(text: string): void;
  comment(text: string): void;
  mark(mark: PlannedMark): void;
  text(): string;
}

function createWriter(plan: GridProgramOptions): ProgramWriter {
  const lines: string[] = [];
  const strokes: Stroke[] = [];
  const feed = `F${word(plan.feedMmPerMin)}`;
  return {
    strokes,
    line: (text) => {
      lines.push(text);
    },
    comment: (text) => {
      lines.push(`(${text})`);
    },
    mark: ({ fromMm, toMm, across }) => {
      const lengthMm = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
      const along = [(toMm[0] - fromMm[0]) / lengthMm, (toMm[1] - fromMm[1]) / lengthMm] as const;
      // The axis that stands still during the mark gets its sense from a move of its own before.
      const senseX = (along[0] === 0 ? across : Math.sign(along[0])) as Approach;
      const senseY = (along[1] === 0 ? across : Math.sign(along[1])) as Approach;
      const run = plan.overrunMm;
      const readyX = fromMm[0] - run * along[0];
      const readyY = fromMm[1] - run * along[1];
      lines.push(
        `G0 X${word(readyX - (along[0] === 0 ? run * senseX : 0))} Y${word(readyY - (along[1] === 0 ? run * senseY : 0))}`,
      );
      if (along[0] === 0) lines.push(`G0 X${word(readyX)}`);
      if (along[1] === 0) lines.push(`G0 Y${word(readyY)}`);
      lines.push(`G1 X${word(fromMm[0])} Y${word(fromMm[1])} S0 ${feed}`);
      lines.push(`G1 X${word(toMm[0])} Y${word(toMm[1])} S${word(plan.power)}`);
      strokes.push({
        id: strokes.length,
        fromMm,
        toMm,
        approachX: senseX,
        approachY: senseY,
        sourceLine: lines.length,
      });
      lines.push(`G1 X${word(toMm[0] + run * along[0])} Y${word(toMm[1] + run * along[1])} S0`);
    },
    text: () => `${lines.join('\n')}\n`,
  };
}

function writeHeader(writer: ProgramWriter, plan: GridProgramOptions): void {
  const { xMm, yMm } = plan;
  const room = plan.overhangMm + 2 * plan.overrunMm + 20;
  writer.comment(`${plan.title}: ${xMm.length} lines at constant X, ${yMm.length} at constant Y`);
  writer.comment(
    `X ${word(xMm[0]!)} to ${word(xMm[xMm.length - 1]!)} mm, Y ${word(yMm[0]!)} to ${word(yMm[yMm.length - 1]!)} mm; keep ${word(room)} mm clear all round`,
  );
  writer.comment('burns lines on the bed with a laser; zero X and Y at the lower left of the grid');
  writer.comment('LASER: eyewear for its wavelength for everybody present, extraction on');
  writer.comment('LASER: never leave it unattended, extinguisher at hand, dust cleared first');
  writer.comment('focus on the board before the start; nothing loose on the bed');
  const interval = commonInterval([xMm, yMm]);
  if (interval) {
    writer.comment(
      `all intervals are ${word(interval)} mm: an error that repeats within that length stays hidden`,
    );
  }
  writer.line('G21 G90 G17 G94');
  writer.line('M4 S0');
}

function commonInterval(lines: readonly (readonly number[])[]): number | undefined {
  const intervals = lines.flatMap((at) => at.slice(1).map((position, i) => position - at[i]!));
  const first = intervals[0];
  if (first === undefined) return undefined;
  return intervals.every((interval) => Math.abs(interval - first) < 1e-6) ? first : undefined;
}

/** A number as a program word: no more than a tenth of a micron, no trailing zeros. */
function word(value: number): string {
  return String(rounded(value) + 0);
}

/** To the program's own digits, so that text and strokes say the same. */
function rounded(valueMm: number): number {
  return Math.round(valueMm * 1e4) / 1e4;
}
