/** Photos → physical cameras: same make, model, focal length and picture size. */

import { focalLengthPx, type Photo } from '../imaging/index.js';
import type { NetworkCamera } from '../network/index.js';

export interface CameraGroup {
  readonly camera: NetworkCamera;
  readonly make?: string;
  readonly model?: string;
}

/** What a photo tells of its camera, without its pixels. */
export type PhotoFacts = Pick<Photo, 'exif' | 'widthPx' | 'heightPx'>;

/** @returns the cameras, and for every photo the index of its own. */
export function groupCameras(photos: readonly PhotoFacts[]): {
  groups: CameraGroup[];
  cameraOf: number[];
} {
  const groups: CameraGroup[] = [];
  const known = new Map<string, number>();
  const cameraOf = photos.map(({ exif, widthPx, heightPx }) => {
    const { make, model, focalLengthMm } = exif;
    const key = JSON.stringify([make, model, focalLengthMm, widthPx, heightPx]);
    const seen = known.get(key);
    if (seen !== undefined) return seen;
    const focal = focalLengthPx(exif, widthPx, heightPx);
    known.set(key, groups.length);
    groups.push({
      camera: { widthPx, heightPx, ...(focal === undefined ? {} : { focalLengthPx: focal }) },
      ...(make === undefined ? {} : { make }),
      ...(model === undefined ? {} : { model }),
    });
    return groups.length - 1;
  });
  return { groups, cameraOf };
}
