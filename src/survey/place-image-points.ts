/** Pixel positions of the grid's points, found by other means → photos and marks of the adjustment. */

import type { Approach } from '../../shared/stroke.js';
import type { MachineLayout } from '../machine/index.js';
import type {
  LineObservation,
  NetworkCamera,
  NetworkPhoto,
  NetworkSegment,
} from '../network/index.js';
import { fitProjectiveMap } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';

/** One point of the grid in one photo. */
export interface ImagePoint {
  /** Line of the file, from 1. */
  readonly sourceLine: number;
  readonly photo: string;
  /** Commanded, mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Sensor pixel. */
  readonly uPx: number;
  readonly vPx: number;
  /** Standard uncertainty of u and of v. */
  readonly sigmaPx: number;
  /** Sense of the last motion before the mark along each axis; 0: not known. */
  readonly approachX: Approach;
  readonly approachY: Approach;
}

/** What the points add to the adjustment. */
export interface PlacedImagePoints {
  readonly photoNames: readonly string[];
  readonly photos: readonly NetworkPhoto[];
  readonly segments: readonly NetworkSegment[];
  readonly observations: readonly LineObservation[];
}

/** A homography has eight unknowns; two points more show whether it fits. */
const FEWEST_POINTS = 6;
/** Commanded positions this close are the same line, mm. */
const SAME_LINE_MM = 1e-6;

/** Fails: IMAGE_POINTS_INVALID. */
export function placeImagePoints(
  points: readonly ImagePoint[],
  { linesAtX, linesAtY }: Pick<MachineLayout, 'linesAtX' | 'linesAtY'>,
  { widthPx, heightPx }: NetworkCamera,
): Outcome<PlacedImagePoints> {
  const photoNames = [...new Set(points.map(({ photo }) => photo))];
  const photos: NetworkPhoto[] = [];
  for (const name of photoNames) {
    const own = points.filter(({ photo }) => photo === name);
    const homography =
      own.length < FEWEST_POINTS
        ? undefined
        : fitProjectiveMap(own.map(({ xMm, yMm, uPx, vPx }) => [xMm, yMm, uPx, vPx] as const));
    if (homography === undefined) {
      return failed(
        'IMAGE_POINTS_INVALID',
        `photo ${name} has ${own.length} points${own.length < FEWEST_POINTS ? '' : ', all on a line'}`,
        {
          where: `line ${own[0]?.sourceLine ?? 1}`,
          hint: `give at least ${FEWEST_POINTS} points of every photo, spread over the grid, or leave the photo out`,
        },
      );
    }
    photos.push({
      camera: 0,
      homography,
      centrePx: [(widthPx - 1) / 2, (heightPx - 1) / 2],
      radiusPx: Math.hypot(widthPx, heightPx) / 2,
      k1: 0,
      k2: 0,
    });
  }
  const segments: NetworkSegment[] = [];
  const known = new Map<string, number>();
  const indexOf = (lines: readonly number[], at: number) => {
    const index = lines.findIndex((line) => Math.abs(line - at) <= SAME_LINE_MM);
    return index < 0 ? undefined : index;
  };
  const observations = points.flatMap(
    ({ photo, xMm, yMm, uPx, vPx, sigmaPx, approachX, approachY }) => {
      const key = `${xMm} ${yMm} ${approachX} ${approachY}`;
      let segment = known.get(key);
      if (segment === undefined) {
        segment = segments.length;
        known.set(key, segment);
        const place = { placement: 0, xMm, yMm };
        segments.push(
          {
            ...place,
            axis: 'x',
            line: indexOf(linesAtX, xMm),
            approach: approachX,
            pair: segment + 1,
          },
          { ...place, axis: 'y', line: indexOf(linesAtY, yMm), approach: approachY },
        );
      }
      const seen = { photo: photoNames.indexOf(photo), segment, uPx, vPx, sigmaPx };
      return [
        { ...seen, normalU: 1, normalV: 0 },
        { ...seen, normalU: 0, normalV: 1 },
      ];
    },
  );
  return success({ photoNames, photos, segments, observations });
}
