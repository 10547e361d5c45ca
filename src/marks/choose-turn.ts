/** Which way round: marks that break the symmetry decide, then the shape where it speaks clearly. */

import type { Turn } from './placement-turns.js';

/** Log odds below which two placements are not told apart (about 1 in 1000). */
export const CLEAR_ODDS = 7;
/** A turn is ruled out by its shape where it needs pixels this much less square (log of the ratio). */
export const CLEAR_ASPECT = 0.12;

export interface WeighedTurn {
  readonly turn: Turn;
  /** Log odds from the predicted marks. */
  readonly logOdds: number;
  /** How far from square its pixels would have to be: |ln| of the ratio. */
  readonly misshape: number;
}

export interface TurnChoice {
  readonly chosen: Turn;
  /** Turns not told apart from it, with their turn against it and the log odds it has over them. */
  readonly rivals: { readonly rotationDeg: 90 | 180 | 270; readonly evidence: number }[];
}

export function chooseTurn(turns: readonly WeighedTurn[]): TurnChoice {
  const squarest = Math.min(...turns.map((t) => t.misshape));
  const shapely = turns.filter((t) => t.misshape - squarest < CLEAR_ASPECT);
  const top = Math.max(...shapely.map((t) => t.logOdds));
  const near = shapely.filter((t) => top - t.logOdds < CLEAR_ODDS);
  const chosen = near.reduce((a, b) => {
    if (Math.abs(a.logOdds - b.logOdds) > 1) return a.logOdds > b.logOdds ? a : b;
    // Equal marks: the squarer one, but the first where the shapes differ by rounding only.
    return b.misshape < a.misshape - 0.01 ? b : a;
  });
  const rivals = near
    .filter((t) => t !== chosen)
    .map((t) => ({
      rotationDeg: ((t.turn.rotationDeg - chosen.turn.rotationDeg + 360) % 360) as 90 | 180 | 270,
      evidence: chosen.logOdds - t.logOdds,
    }));
  return { chosen: chosen.turn, rivals };
}
