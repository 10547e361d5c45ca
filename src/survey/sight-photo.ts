/** What a photo shows of the grid, in figures; taken while its pixels are at hand. */

import type { PicturePlace } from '../../shared/schemas/photo-verdict.js';
import {
  boxOf,
  displayFrame,
  type Exposure,
  focalLengthPx,
  isClippedBright,
  measureExposure,
  type Photo,
  rankPlaces,
} from '../imaging/index.js';
import {
  findMissing,
  type GridCoverage,
  gridCoverage,
  type ImageMap,
  type MeasuredMarks,
  type MissingMarks,
} from '../marks/index.js';
import { estimateView, type View } from '../network/index.js';
import type { BoardSegment, Grid } from '../program/index.js';
import type { GreyImage } from '../quantity/index.js';

export interface PhotoSight {
  readonly exposure: Exposure & { readonly area: 'grid' | 'picture' };
  /** Where the board, or else the picture, is next to white; most first, as people see it. */
  readonly glare: readonly PicturePlace[];
  readonly coverage?: Omit<GridCoverage, 'pointsPx' | 'box'>;
  readonly missing?: readonly MissingMarks[];
  readonly view?: View;
}

/** Places each way in a whole picture. */
const EACH_WAY = 120;

/** Where the grid was found, and the marks where they could be measured. */
export interface Found {
  readonly map: ImageMap;
  readonly marks?: MeasuredMarks;
  /** That were looked for. */
  readonly segments?: readonly BoardSegment[];
}

export function sightPhoto(
  photo: Omit<Photo, 'grey'>,
  grey: GreyImage,
  grid: Grid,
  found?: Found,
): PhotoSight {
  const marks = found?.marks;
  const map = marks?.map ?? found?.map;
  const frame = displayFrame(photo, photo.exif.orientation, Number.POSITIVE_INFINITY);
  const covered = map && gridCoverage(grid, map, frame);
  const exposure = measureExposure(grey, covered?.pointsPx) ?? measureExposure(grey);
  if (exposure === undefined) throw new Error('a picture without pixels was read');
  const places = covered?.pointsPx ?? everywhere(photo);
  const bright = brightOnes(grey, places).map(frame.displayFromSensor);
  const whole = boxOf([
    [0, 0],
    [frame.widthPx, frame.heightPx],
  ]);
  const glare = rankPlaces(bright, covered?.box ?? whole);
  if (covered === undefined || map === undefined) {
    return { exposure: { area: 'picture', ...exposure }, glare };
  }
  const { pointsPx: _, box, ...coverage } = covered;
  const focalPx = focalLengthPx(photo.exif, photo.widthPx, photo.heightPx);
  const view = estimateView(map.homography, photo, focalPx);
  return {
    exposure: { area: 'grid', ...exposure },
    glare,
    coverage,
    ...(marks === undefined
      ? {}
      : { missing: findMissing(grey, found?.segments ?? [], marks, frame, box) }),
    ...(view === undefined ? {} : { view }),
  };
}

function brightOnes({ width, height, data }: GreyImage, pointsPx: Float64Array) {
  const bright: [number, number][] = [];
  for (let i = 0; i + 1 < pointsPx.length; i += 2) {
    const u = Math.round(pointsPx[i]);
    const v = Math.round(pointsPx[i + 1]);
    const isInside = u >= 0 && v >= 0 && u < width && v < height;
    if (isInside && isClippedBright(data[v * width + u])) bright.push([u, v]);
  }
  return bright;
}

function everywhere({ widthPx, heightPx }: { widthPx: number; heightPx: number }): Float64Array {
  const points = Array.from({ length: EACH_WAY * EACH_WAY }, (_, i) => [
    ((i % EACH_WAY) * widthPx) / EACH_WAY,
    (Math.floor(i / EACH_WAY) * heightPx) / EACH_WAY,
  ]);
  return Float64Array.from(points.flat());
}
