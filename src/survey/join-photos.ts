/**
 * Photos of the middle of an even grid, which nothing in them places: laid on photos whose place is known by the
 * bare board that both show, one after the other, so that each may lead to the next.
 */

import { type Photo, readPhoto } from '../imaging/index.js';
import {
  type BoardTexture,
  boardTexture,
  type CellView,
  crossingsAt,
  type ImageMap,
  joinTextures,
  matchTextures,
  type StatedCrossing,
  viewOfPlacement,
} from '../marks/index.js';
import type { Board, PhotoFate } from './examine-photo.js';

export interface PlacedPhoto {
  readonly path: string;
  readonly map: ImageMap;
}

export interface OpenPhoto {
  readonly index: number;
  readonly path: string;
  readonly view: CellView;
}

/**
 * @param placed none of them wrong, as far as anybody knows.
 * @param examine reads a photo again, with crossings whose place is known now.
 * @returns the photos that found their place, by index.
 */
export async function joinPhotos(
  placed: readonly PlacedPhoto[],
  open: readonly OpenPhoto[],
  { strokes }: Board,
  examine: (photo: OpenPhoto, crossings: readonly StatedCrossing[]) => Promise<PhotoFate>,
): Promise<ReadonlyMap<number, PhotoFate>> {
  const joined = new Map<number, PhotoFate>();
  if (placed.length === 0 || open.length === 0) return joined;
  let known: BoardTexture | undefined;
  const add = (photo: Photo, map: ImageMap) => {
    const view = viewOfPlacement(strokes, map, photo);
    if (view === undefined) return;
    const texture = boardTexture(photo.grey, view);
    known = known === undefined ? texture : joinTextures(known, texture);
  };
  for (const { path, map } of placed) {
    const read = await readPhoto(path);
    if (read.ok) add(read.value, map);
  }
  let waiting: (OpenPhoto & { texture: BoardTexture })[] = [];
  for (const photo of open) {
    const read = await readPhoto(photo.path);
    if (read.ok) waiting.push({ ...photo, texture: boardTexture(read.value.grey, photo.view) });
  }
  for (let found = -1; found !== 0 && known !== undefined; ) {
    const sure = waiting.flatMap((photo) => {
      const match = known && matchTextures(known, photo.texture);
      return match?.clear ? [{ photo, match }] : [];
    });
    waiting = waiting.filter((photo) => !sure.some((one) => one.photo === photo));
    found = 0;
    for (const { photo, match } of sure) {
      const fate = await examine(photo, crossingsAt(strokes, photo.view, match));
      if (!fate.outcome.ok || !fate.outcome.value.certain) continue;
      joined.set(photo.index, fate);
      const read = await readPhoto(photo.path);
      if (read.ok) add(read.value, fate.outcome.value.marks.map);
      found++;
    }
  }
  return joined;
}
