/** How far marks made again really lie off the first ones of their line, on a machine that creeps. */

import type { Stroke } from '../shared/stroke.js';
import { gridLines, type MachineErrors } from './machine-errors.js';

export interface DriftTruth {
  /** mm, + farther toward +; absent where no line at constant X, or Y, was marked again. */
  readonly x?: number;
  readonly y?: number;
}

/** A mark beside its line by more than rounding is another mark, mm. */
const ON_LINE_MM = 1e-6;

/** A line's mark with its place in the order of the program, 0 to 1. */
interface OrderedMark {
  readonly elapsed: number;
  readonly lengthMm: number;
  readonly approach: number;
}

/**
 * The creep grows evenly from the program's first mark to its last. A mark counts as made again when half
 * of the other lines of its direction were begun between it and its line's first mark of its approach.
 */
export function driftTruth(errors: MachineErrors, strokes: readonly Stroke[]): DriftTruth {
  const { xMm, yMm } = gridLines(strokes);
  const x = elapsedBetween(strokes, 0, xMm);
  const y = elapsedBetween(strokes, 1, yMm);
  return {
    ...(x === undefined ? {} : { x: x * (errors.driftXMm ?? 0) }),
    ...(y === undefined ? {} : { y: y * (errors.driftYMm ?? 0) }),
  };
}

/** Share of the program between the first marks and those made again; mean of the lines that have both. */
function elapsedBetween(
  strokes: readonly Stroke[],
  axis: 0 | 1,
  positions: readonly number[],
): number | undefined {
  const lines = positions.map((position) => marksOn(strokes, axis, position));
  const starts = lines.map((line) => Math.min(...line.map((mark) => mark.elapsed)));
  const waits: number[] = [];
  for (const line of lines) {
    const isAgain = (mark: OrderedMark) => {
      const alike = line.filter((one) => one.approach === mark.approach);
      const first = Math.min(...alike.map((one) => one.elapsed));
      const between = starts.filter((start) => start > first && start < mark.elapsed).length;
      return between > 0 && 2 * between >= lines.length - 1;
    };
    const again = line.filter((mark) => isAgain(mark));
    const before = line.filter((mark) => !isAgain(mark));
    if (again.length > 0 && before.length > 0) waits.push(meanElapsed(again) - meanElapsed(before));
  }
  if (waits.length === 0) return undefined;
  return waits.reduce((sum, wait) => sum + wait, 0) / waits.length;
}

function marksOn(strokes: readonly Stroke[], axis: 0 | 1, positionMm: number): OrderedMark[] {
  const last = Math.max(1, strokes.length - 1);
  return strokes.flatMap(({ fromMm, toMm, approachX, approachY }, order) => {
    const isOn = [fromMm, toMm].every((end) => Math.abs(end[axis] - positionMm) <= ON_LINE_MM);
    if (!isOn) return [];
    return [
      {
        elapsed: order / last,
        lengthMm: Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]),
        approach: axis === 0 ? approachX : approachY,
      },
    ];
  });
}

/** By length: a longer mark says more of its line. */
function meanElapsed(marks: readonly OrderedMark[]): number {
  const lengthMm = marks.reduce((sum, mark) => sum + mark.lengthMm, 0);
  return marks.reduce((sum, mark) => sum + mark.lengthMm * mark.elapsed, 0) / lengthMm;
}
