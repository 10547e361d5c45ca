/** A bed that no photo shows as a whole. */

import { type RandomScene, randomScene, type Scene } from '../../samples/index.js';
import type { Stroke } from '../../shared/stroke.js';

export interface PartialPhotos {
  readonly seed: number;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Where each photo aims, share of the board both ways, with the quarter turn of the phone in degrees. */
  readonly aims: readonly (readonly [number, number, number])[];
  /** Against the distance from which the whole board is seen. */
  readonly nearer: number;
}

export function drawPartialPhotos(
  strokes: readonly Stroke[],
  { seed, widthPx, heightPx, aims, nearer }: PartialPhotos,
): { scene: Scene; taped: RandomScene['taped'] } {
  const { scene, taped } = randomScene(seed, strokes, {
    widthPx,
    heightPx,
    lensState: 'corrected',
    markKind: 'burnt',
    shadows: false,
    objects: false,
    rolls: aims.map(([, , roll]) => roll),
  });
  const [x0, y0, x1, y1] = scene.board.edgesMm;
  const photos = scene.photos.map((photo, i) => ({
    ...photo,
    stand: {
      ...photo.stand,
      aimMm: [x0 + aims[i]![0] * (x1 - x0), y0 + aims[i]![1] * (y1 - y0)] as const,
      distanceMm: nearer * photo.stand.distanceMm,
    },
  }));
  return { scene: { ...scene, photos }, taped };
}
