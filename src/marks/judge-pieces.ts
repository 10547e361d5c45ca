/** Pieces along a segment that a cover or a stain hides; with too many of them the segment is lost. */

import { robustSigma } from '../numerics/index.js';
import type { Strip } from './gather-strip.js';
import { curveWithSlope, type MarkCurve } from './mark-curve.js';
import type { Registration } from './register-segment.js';
import { lightAt, type RowLevels } from './row-levels.js';

/** A registered segment; what is found is written into it. */
export interface PiecewiseJudged {
  readonly strip: Strip;
  readonly stretch: number;
  readonly halfPx: number;
  readonly state: Registration;
  leftOut: boolean[] | undefined;
  readonly rowLevels: RowLevels;
}

/** Length of a piece: texture averages out over it, a cover's edge does not hide in it; px. */
const PIECE_PX = 12;
const MOST_PIECES = 10;
/** Departures from the whole segment's depth and place, in scatters of all pieces and at least. */
const FARTHEST = 5;
const LEAST_DEPTH_OFF = 0.6;
const LEAST_SHIFT_OFF_PX = 0.6;
const ROUGHEST = 3.5;
/** A segment with less than this left is not used. */
const LEAST_LEFT = 0.65;

interface Piece {
  readonly owner: number;
  readonly index: number;
  /** Departure from the segment's depth, share of it. */
  readonly depthOff: number;
  readonly shiftOffPx: number;
  readonly roughness: number;
}

export function findBadPieces(segments: readonly PiecewiseJudged[], curve: MarkCurve): void {
  const counts = segments.map(({ strip }) =>
    Math.max(1, Math.min(MOST_PIECES, Math.round(strip.lengthPx / PIECE_PX))),
  );
  const pieces = segments.flatMap((segment, owner) =>
    measurePieces(segment, owner, counts[owner], curve),
  );
  const spread = (of: (piece: Piece) => number) => robustSigma(pieces.map(of));
  const depthLimit = Math.max(LEAST_DEPTH_OFF, FARTHEST * spread((p) => p.depthOff));
  const shiftLimit = Math.max(LEAST_SHIFT_OFF_PX, FARTHEST * spread((p) => p.shiftOffPx));
  for (const { owner, index, depthOff, shiftOffPx, roughness } of pieces) {
    const bad =
      Math.abs(depthOff) > depthLimit || Math.abs(shiftOffPx) > shiftLimit || roughness > ROUGHEST;
    if (!bad) continue;
    const segment = segments[owner];
    segment.leftOut ??= new Array<boolean>(counts[owner]).fill(false);
    segment.leftOut[index] = true;
  }
}

/** Too little of a segment is left to be sure of the rest. */
export function isMostlyOut({ leftOut }: { readonly leftOut: boolean[] | undefined }): boolean {
  return (
    leftOut !== undefined && leftOut.filter((out) => !out).length < LEAST_LEFT * leftOut.length
  );
}

/** One linear step from the whole segment's fit for level, depth and place of each piece. */
function measurePieces(
  { strip, stretch, halfPx, state, rowLevels }: PiecewiseJudged,
  owner: number,
  count: number,
  curve: MarkCurve,
): Piece[] {
  const both = new Float64Array(2);
  // Sums per piece: 1, p, s, pp, ps, ss, r, rp, rs, rr.
  const sums = Array.from({ length: count }, () => new Float64Array(10));
  for (let i = 0; i < strip.value.length; i++) {
    const d = strip.across[i];
    if (Math.abs(d - state.shiftPx) > halfPx) continue;
    const t = strip.along[i];
    const at = Math.floor((t / strip.lengthPx + 0.5) * count);
    const sum = sums[Math.min(count - 1, Math.max(0, at))];
    curveWithSlope(curve, stretch * (d - state.shiftPx), both);
    const light = lightAt(state, rowLevels, d, t, strip.lengthPx);
    const r = strip.value[i] - light * (1 + state.depth * both[0]);
    const p = light * state.depth * both[0];
    const s = -light * state.depth * stretch * both[1];
    sum[0] += 1;
    sum[1] += p;
    sum[2] += s;
    sum[3] += p * p;
    sum[4] += p * s;
    sum[5] += s * s;
    sum[6] += r;
    sum[7] += r * p;
    sum[8] += r * s;
    sum[9] += r * r;
  }
  return sums.map((sum, index) => {
    const n = sum[0];
    const pp = sum[3] - (sum[1] * sum[1]) / n;
    const ps = sum[4] - (sum[1] * sum[2]) / n;
    const ss = sum[5] - (sum[2] * sum[2]) / n;
    const rp = sum[7] - (sum[6] * sum[1]) / n;
    const rs = sum[8] - (sum[6] * sum[2]) / n;
    const determinant = pp * ss - ps * ps;
    const solved = n > 6 && determinant > 0;
    return {
      owner,
      index,
      depthOff: solved ? (rp * ss - rs * ps) / determinant : 0,
      shiftOffPx: solved ? (rs * pp - rp * ps) / determinant : 0,
      roughness: n > 0 ? Math.sqrt(sum[9] / n) / Math.max(0.5, state.noise) : 0,
    };
  });
}
