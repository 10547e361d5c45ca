/** Measures drawn pictures and compares with their truth and with the least possible scatter. */

import { measureSegments } from '../../src/marks/index.js';
import { type BoardSegment, cutStrokes, describeGrid } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { type DrawnPicture, drawStraightMarks, type MarkedPicture } from './straight-marks.js';

export interface SegmentError {
  readonly segment: BoardSegment;
  /** Seen minus drawn; px. */
  readonly errorPx: number;
  readonly sigmaPx: number;
}

export interface Score {
  readonly failure?: string;
  /** About each family's own mean; px. */
  readonly rmsPx: number;
  /** Larger of the families' means: common to all parallel lines; px. */
  readonly biasPx: number;
  readonly boundPx: number;
  readonly overBound: number;
  /** Root mean square of error over stated uncertainty. */
  readonly overSigma: number;
  readonly rejected: number;
}

export function errorsOf(drawn: DrawnPicture): {
  segments: readonly BoardSegment[];
  errors: SegmentError[];
  failure?: string;
} {
  const { segments } = cutStrokes(drawn.strokes, unwrap(describeGrid(drawn.strokes)));
  const outcome = measureSegments(drawn.grey, segments, roughMap(drawn));
  if (!outcome.ok) return { segments, errors: [], failure: outcome.failure.code };
  return {
    segments,
    errors: outcome.value.observations.map((o) => {
      const segment = segments[o.segmentId];
      return {
        segment,
        errorPx: drawn.distance(segment.strokeId, o.uPx, o.vPx),
        sigmaPx: o.sigmaPx,
      };
    }),
  };
}

/** What the search hands over: off by a px or so, a little turned and too large. */
function roughMap({ homography, grey: { width, height } }: DrawnPicture) {
  const h = Float64Array.from(homography);
  h[0] *= 1.002;
  h[1] += 0.006;
  h[2] += 0.6;
  h[5] -= 0.9;
  return {
    homography: h,
    centrePx: [width / 2, height / 2] as const,
    radiusPx: Math.hypot(width, height) / 2,
    k1: 0,
    k2: 0,
  };
}

/** @param axes families that count. */
export function scorePicture(
  picture: MarkedPicture,
  seeds: readonly number[],
  axes: readonly ('x' | 'y')[] = ['x', 'y'],
): Score {
  let [squares, count, ratios, bounds, possible] = [0, 0, 0, 0, 0];
  let biasPx = 0;
  for (const seed of seeds) {
    const drawn = drawStraightMarks({ ...picture, seed });
    const { segments, errors, failure } = errorsOf(drawn);
    if (failure !== undefined) {
      const none = Number.NaN;
      return {
        failure,
        rmsPx: none,
        biasPx: none,
        boundPx: none,
        overBound: none,
        overSigma: none,
        rejected: 1,
      };
    }
    for (const axis of axes) {
      const own = errors.filter(({ segment }) => segment.axis === axis);
      const mean = own.reduce((sum, e) => sum + e.errorPx, 0) / own.length;
      if (Math.abs(mean) > Math.abs(biasPx)) biasPx = mean;
      const all = segments.filter((s) => s.axis === axis);
      possible += all.length;
      const textured =
        picture.texture === undefined ? undefined : boundOf(drawn, all[all.length >> 1], true);
      for (const { segment, errorPx, sigmaPx } of own) {
        const bound = textured ?? boundOf(drawn, segment, false);
        squares += (errorPx - mean) ** 2;
        ratios += ((errorPx - mean) / sigmaPx) ** 2;
        bounds += bound ** 2;
        count++;
      }
    }
  }
  const rmsPx = Math.sqrt(squares / count);
  const boundPx = Math.sqrt(bounds / count);
  return {
    rmsPx,
    biasPx,
    boundPx,
    overBound: rmsPx / boundPx,
    overSigma: Math.sqrt(ratios / count),
    rejected: 1 - count / possible,
  };
}

function boundOf(drawn: DrawnPicture, { strokeId, fromMm, toMm }: BoardSegment, textured: boolean) {
  return textured
    ? drawn.texturedBoundPx(strokeId, fromMm, toMm)
    : drawn.boundPx(strokeId, fromMm, toMm);
}
