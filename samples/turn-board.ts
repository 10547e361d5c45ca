/** Where the second program's marks come to lie on a board that was turned between two programs. */

import type { Stroke } from '../shared/stroke.js';
import { gridLines } from './machine-errors.js';
import type { SecondMarking } from './scene.js';

export interface TurnedPairOptions {
  /** How far the board was turned under the machine: +1 a quarter turn to the left, -1 to the right. */
  readonly quarters: 1 | -1;
  /** What the turn misses a quarter by; degrees. */
  readonly offDeg: number;
  /** How far the middle of the first grid came to lie off the middle of the second one; mm. */
  readonly offMm: readonly [number, number];
}

/**
 * The first grid's middle is brought back under the tool at the second grid's middle. Seen from the board, the
 * machine has turned the other way.
 */
export function turnBoard(
  first: readonly Stroke[],
  second: readonly Stroke[],
  { quarters, offDeg, offMm }: TurnedPairOptions,
): SecondMarking {
  const rotationRad = (-(90 * quarters + offDeg) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  const [toX, toY] = middleOf(first);
  const [fromX, fromY] = middleOf(second);
  return {
    strokes: second,
    rotationRad,
    shiftMm: [
      toX + offMm[0] - (cos * fromX - sin * fromY),
      toY + offMm[1] - (sin * fromX + cos * fromY),
    ],
  };
}

function middleOf(strokes: readonly Stroke[]): [number, number] {
  const { xMm, yMm } = gridLines(strokes);
  const middle = (at: readonly number[]) => ((at[0] ?? 0) + (at[at.length - 1] ?? 0)) / 2;
  return [middle(xMm), middle(yMm)];
}
