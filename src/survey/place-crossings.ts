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
  const frame = displayFrame(photo, photo.exif.orientation, Number.POSITIVE_INFINITY);
  return own.map(({ columnPx, rowPx, xMm, yMm }) => {
    const [uPx, vPx] = frame.sensorFromDisplay([columnPx + 0.5, rowPx + 0.5]);
    return { xMm, yMm, uPx, vPx };
  });
}
