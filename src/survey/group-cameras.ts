/** Photos → physical cameras: same make, model, focal length and picture size. */

import { focalLengthPx, type Photo } from '../imaging/index.js';
import type { NetworkCamera } from '../network/index.js';
import { sensorSize } from './stored-turn.js';

export interface CameraGroup {
  readonly camera: NetworkCamera;
  readonly make?: string;
  readonly model?: string;
}

/** What a photo tells of its camera, without its pixels. */
export type PhotoFacts = Pick<Photo, 'exif' | 'widthPx' | 'heightPx'>;

export interface GroupedPhotos {
  readonly groups: readonly CameraGroup[];
  /** Index of every photo's camera. */
  readonly cameraOf: readonly number[];
  /** Photos whose width and height are swapped against the others of their camera: stored turned. */
  readonly crossed: readonly boolean[];
}

/** A sensor stays what it is: swapped sides mean that software turned the picture. */
export function groupCameras(photos: readonly PhotoFacts[]): GroupedPhotos {
  const groups: CameraGroup[] = [];
  const known = new Map<string, number>();
  const keyOf = ({ exif, widthPx, heightPx }: PhotoFacts) => {
    const { make, model, focalLengthMm } = exif;
    const sides = [Math.max(widthPx, heightPx), Math.min(widthPx, heightPx)];
    return JSON.stringify([make, model, focalLengthMm, sides]);
  };
  const keys = photos.map(keyOf);
  const wide = (key: string) => {
    const own = photos.filter((_, i) => keys[i] === key);
    // As many of each: sensors of phones are wider than high. Common practice, no source.
    return own.filter((p) => p.widthPx >= p.heightPx).length >= own.length / 2;
  };
  const crossed = photos.map(
    ({ widthPx, heightPx }, i) => widthPx !== heightPx && wide(keys[i]) !== widthPx > heightPx,
  );
  const cameraOf = photos.map((photo, i) => {
    const seen = known.get(keys[i]);
    if (seen !== undefined) return seen;
    const { make, model } = photo.exif;
    const { widthPx, heightPx } = sensorSize(photo, crossed[i] ? 90 : 0);
    const focal = focalLengthPx(photo.exif, widthPx, heightPx);
    known.set(keys[i], groups.length);
    groups.push({
      camera: { widthPx, heightPx, ...(focal === undefined ? {} : { focalLengthPx: focal }) },
      ...(make === undefined ? {} : { make }),
      ...(model === undefined ? {} : { model }),
    });
    return groups.length - 1;
  });
  return { groups, cameraOf, crossed };
}
