/** Where the second program's marks will lie on a board that is turned under the machine. */

import { type Board, cutTogether } from '../survey/index.js';

/** Turned by less a board is marked again, not turned; degrees. */
export const LEAST_PLANNED_TURN_DEGREES = 5;

/**
 * The board turned about the middle of its first grid, which comes to lie under the tool where it was. Seen from the
 * board, the machine has turned the other way.
 *
 * @param turnRad of the board, anticlockwise seen from above.
 * @returns the board as it is where one program alone marks it.
 */
export function turnPlacement(board: Board, turnRad: number): Board {
  const { second } = board;
  if (second === undefined) return board;
  const rotationRad = -turnRad;
  const [c, s] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  const [x, y] = [board.grid.linesAtX, board.grid.linesAtY].map(
    (lines) => (lines[0].positionMm + lines[lines.length - 1].positionMm) / 2,
  );
  const shiftMm = [x - (c * x - s * y), y - (s * x + c * y)] as const;
  return cutTogether(
    { ...board, second },
    {
      rotationRad,
      shiftMm,
      firstFromSecond: [c, -s, shiftMm[0], s, c, shiftMm[1]],
      unlike: 0,
    },
  );
}
