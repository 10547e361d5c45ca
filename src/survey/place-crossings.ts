/** Crossings that somebody found in a picture, in the frame of its sensor. */

import { basename } from 'node:path';
import { displayFrame, type Photo } from '../imaging/index.js';
import type { StatedCrossing } from '../marks/index.js';
import type { SeenCrossing } from './survey-request.js';

/** Those of one photo. People count pixels from the top left corner of the upright picture. */
export function placeCrossings(
  crossings: readonly SeenCrossing[],
  path: string,
  photo: Pick<Photo, 'widthPx' | 'heightPx' | 'exif'>,
): StatedCrossing[] {
  const own = crossings.filter((one) => one.photo === path || one.photo === basename(path));
  if (own.length === 0) return [];
  const widest = Math.max(photo.widthPx, photo.heightPx);
  const { displayFromSensor } = displayFrame(photo, photo.exif.orientation, widest);
  // A quarter turn and a shift: three places give its inverse.
  const [ou, ov] = displayFromSensor([0, 0]);
  const [au, av] = displayFromSensor([1, 0]).map((value, i) => value - [ou, ov][i]);
  const [bu, bv] = displayFromSensor([0, 1]).map((value, i) => value - [ou, ov][i]);
  return own.map(({ columnPx, rowPx, xMm, yMm }) => {
    const [x, y] = [columnPx + 0.5 - ou, rowPx + 0.5 - ov];
    return { xMm, yMm, uPx: au * x + av * y, vPx: bu * x + bv * y };
  });
}
