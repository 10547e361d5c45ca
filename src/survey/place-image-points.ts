/** Pixel positions of the grid's points, found by other means → photos and marks of the adjustment. */

import type { Approach } from '../../shared/stroke.js';
import type { MachineLayout } from '../machine/index.js';
import {
  type LineObservation,
  type NetworkCamera,
  type NetworkPhoto,
  type NetworkSegment,
  plainPhoto,
} from '../network/index.js';
import { fitProjectiveMap } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { SAME_PLACE_MM } from './find-nodes.js';

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

/** One coordinate of a point. */
export interface SeenPoint extends LineObservation {
  /** Line of the file, from 1. */
  readonly sourceLine: number;
}

/** What the points add to the adjustment. */
export interface PlacedImagePoints {
  readonly photoNames: readonly string[];
  readonly photos: readonly NetworkPhoto[];
  readonly segments: readonly NetworkSegment[];
  readonly observations: readonly SeenPoint[];
}

/** A homography has eight unknowns; two points more show whether it fits. */
const FEWEST_POINTS = 6;
/** Pixels may be counted from a corner of the first one, or half a pixel beyond: not more. */
const BESIDE_PICTURE_PX = 1;
/** No lens bends a picture so far that a plane leaves this much of its points' spread. */
const IMPLAUSIBLE = 0.2;

/** Fails: IMAGE_POINTS_INVALID. */
export function placeImagePoints(
  points: readonly ImagePoint[],
  layout: Pick<MachineLayout, 'linesAtX' | 'linesAtY'>,
  camera: NetworkCamera,
): Outcome<PlacedImagePoints> {
  const beside = points.find((point) => isBeside(point, camera));
  if (beside !== undefined) {
    const { sourceLine, uPx, vPx, photo } = beside;
    const { widthPx, heightPx } = camera;
    return failed(
      'IMAGE_POINTS_INVALID',
      `line ${sourceLine}: (${uPx}, ${vPx}) lies outside a picture of ${widthPx} × ${heightPx} pixels`,
      {
        where: photo,
        hint: 'give the size and the pixels of the picture as the sensor took it, not turned and not scaled',
      },
    );
  }
  const photoNames = [...new Set(points.map(({ photo }) => photo))];
  const photos: NetworkPhoto[] = [];
  for (const name of photoNames) {
    const started = startPhoto(
      name,
      points.filter(({ photo }) => photo === name),
      camera,
    );
    if (!started.ok) return started;
    photos.push(started.value);
  }
  return success({ photoNames, photos, ...listMarks(points, photoNames, layout) });
}

function isBeside({ uPx, vPx }: ImagePoint, { widthPx, heightPx }: NetworkCamera): boolean {
  return (
    Math.min(uPx, vPx) < -BESIDE_PICTURE_PX ||
    uPx > widthPx - 1 + BESIDE_PICTURE_PX ||
    vPx > heightPx - 1 + BESIDE_PICTURE_PX
  );
}

/** Where the camera stood, as a plane without a lens's distortion shows it. */
function startPhoto(
  name: string,
  own: readonly ImagePoint[],
  camera: NetworkCamera,
): Outcome<NetworkPhoto> {
  const refuse = (message: string, hint: string) =>
    failed('IMAGE_POINTS_INVALID', `photo ${name} ${message}`, {
      where: `line ${own[0]?.sourceLine ?? 1}`,
      hint,
    });
  const isInLine = own.length >= FEWEST_POINTS && isNearlyInLine(own);
  const homography =
    own.length < FEWEST_POINTS || isInLine
      ? undefined
      : fitProjectiveMap(own.map(({ xMm, yMm, uPx, vPx }) => [xMm, yMm, uPx, vPx] as const));
  if (homography === undefined) {
    return refuse(
      `has ${own.length} ${own.length === 1 ? 'point' : 'points'}${isInLine ? ', not two of them beside one line' : ''}`,
      `give at least ${FEWEST_POINTS} points of every photo, spread over the grid, or leave the photo out`,
    );
  }
  const { left, spread, isMirrored } = judgeMap(homography, own);
  if (left > IMPLAUSIBLE * spread) {
    return refuse(
      `shows no plane: its points lie ${left.toFixed(1)} px (root mean square) beside where a plane would show them`,
      'check that every line joins a commanded point and its own pixel',
    );
  }
  if (isMirrored) {
    return refuse(
      'shows the grid mirrored',
      'seen from above X turns counter-clockwise into Y; u counts to the right and v down: look for a Y that counts downward, or for columns that are swapped',
    );
  }
  return success(plainPhoto(homography, 0, camera));
}

/** All points but one, or all, on a line: no plane is fixed by them. */
function isNearlyInLine(points: readonly ImagePoint[]): boolean {
  const places = new Map(points.map(({ xMm, yMm }) => [`${xMm} ${yMm}`, [xMm, yMm] as const]));
  const all = [...places.values()];
  // Of any three places two lie on such a line.
  const [a, b, c] = all;
  if (a === undefined || b === undefined || c === undefined) return true;
  return [
    [a, b],
    [a, c],
    [b, c],
  ].some(([from, to]) => {
    const [dx, dy] = [to![0] - from![0], to![1] - from![1]];
    const length = Math.hypot(dx, dy);
    const beside = all.filter(
      ([x, y]) => Math.abs(dx * (y - from![1]) - dy * (x - from![0])) > SAME_PLACE_MM * length,
    );
    return beside.length < 2;
  });
}

/** Root mean square of what a map leaves and of the points about their mean, px; and the sense in which it turns. */
function judgeMap(h: Float64Array, points: readonly ImagePoint[]) {
  const n = points.length;
  const meanU = points.reduce((sum, { uPx }) => sum + uPx, 0) / n;
  const meanV = points.reduce((sum, { vPx }) => sum + vPx, 0) / n;
  const determinant =
    h[0]! * (h[4]! * h[8]! - h[5]! * h[7]!) -
    h[1]! * (h[3]! * h[8]! - h[5]! * h[6]!) +
    h[2]! * (h[3]! * h[7]! - h[4]! * h[6]!);
  let left = 0;
  let spread = 0;
  let mirrored = 0;
  for (const { xMm, yMm, uPx, vPx } of points) {
    const w = h[6]! * xMm + h[7]! * yMm + h[8]!;
    const u = (h[0]! * xMm + h[1]! * yMm + h[2]!) / w;
    const v = (h[3]! * xMm + h[4]! * yMm + h[5]!) / w;
    left += (u - uPx) ** 2 + (v - vPx) ** 2;
    spread += (uPx - meanU) ** 2 + (vPx - meanV) ** 2;
    // The map's local determinant is that of the matrix over w³; v counts down, so it has to be negative.
    if (determinant / w > 0) mirrored++;
  }
  return {
    left: Math.sqrt(left / n),
    spread: Math.sqrt(spread / n),
    isMirrored: mirrored > n / 2,
  };
}

/** Each point is one mark with both its coordinates, the same in all photos. */
function listMarks(
  points: readonly ImagePoint[],
  photoNames: readonly string[],
  { linesAtX, linesAtY }: Pick<MachineLayout, 'linesAtX' | 'linesAtY'>,
): Pick<PlacedImagePoints, 'segments' | 'observations'> {
  const segments: NetworkSegment[] = [];
  const known = new Map<string, number>();
  const photoAt = new Map(photoNames.map((name, i) => [name, i]));
  const indexOf = (lines: readonly number[], at: number) => {
    const index = lines.findIndex((line) => Math.abs(line - at) <= SAME_PLACE_MM);
    return index < 0 ? undefined : index;
  };
  const observations = points.flatMap(
    ({ sourceLine, photo, xMm, yMm, uPx, vPx, sigmaPx, approachX, approachY }) => {
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
      const seen = { sourceLine, photo: photoAt.get(photo)!, segment, uPx, vPx, sigmaPx };
      return [
        { ...seen, normalU: 1, normalV: 0 },
        { ...seen, normalU: 0, normalV: 1 },
      ];
    },
  );
  return { segments, observations };
}
