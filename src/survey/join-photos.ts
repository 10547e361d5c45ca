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
import type { Board } from './board.js';
import type { PhotoFate } from './examine-photo.js';

export interface PlacedPhoto {
  readonly path: string;
  readonly map: ImageMap;
}

export interface OpenPhoto {
  readonly index: number;
  readonly path: string;
  readonly view: CellView;
}

export interface Joining {
  /** The photos that found their place, by index. */
  readonly placed: ReadonlyMap<number, PhotoFate>;
  /** Indices of photos that clearly lie on others, but whose own marks do not fit there. */
  readonly misfits: ReadonlySet<number>;
  /**
   * A placed photo that by the bare board lies elsewhere on the other placed ones than by its marks: one of them
   * is wrong, and none is laid on them.
   */
  readonly contradiction?: string;
}

/** @param examine reads a photo again, with crossings whose place is known now. */
export async function joinPhotos(
  placed: readonly PlacedPhoto[],
  open: readonly OpenPhoto[],
  { strokes }: Board,
  examine: (photo: OpenPhoto, crossings: readonly StatedCrossing[]) => Promise<PhotoFate>,
): Promise<Joining> {
  const joined = new Map<number, PhotoFate>();
  const misfits = new Set<number>();
  if (placed.length === 0 || open.length === 0) return { placed: joined, misfits };
  let known: BoardTexture | undefined;
  for (const { path, map } of placed) {
    const texture = await textureOf(path, (photo) => viewOfPlacement(strokes, map, photo));
    if (texture === undefined) continue;
    if (known !== undefined && liesElsewhere(known, texture)) {
      return { placed: joined, misfits, contradiction: path };
    }
    known = known === undefined ? texture : joinTextures(known, texture);
  }
  let waiting: { photo: OpenPhoto; texture: BoardTexture }[] = [];
  for (const photo of open) {
    const texture = await textureOf(photo.path, () => photo.view);
    if (texture !== undefined) waiting.push({ photo, texture });
  }
  // As long as there is one more, it may lead to the next.
  for (let found = 1; found > 0 && known !== undefined; ) {
    const mosaic: BoardTexture = known;
    const sure = waiting.flatMap(({ photo, texture }) => {
      const match = matchTextures(mosaic, texture);
      return match?.clear ? [{ photo, match }] : [];
    });
    waiting = waiting.filter(({ photo }) => !sure.some((one) => one.photo === photo));
    found = 0;
    for (const { photo, match } of sure) {
      const fate = await examine(photo, crossingsAt(strokes, photo.view, match));
      if (!fate.outcome.ok || !fate.outcome.value.certain) {
        misfits.add(photo.index);
        continue;
      }
      joined.set(photo.index, fate);
      found++;
      const { map } = fate.outcome.value.marks;
      const own = await textureOf(photo.path, (seen) => viewOfPlacement(strokes, map, seen));
      if (own !== undefined) known = joinTextures(known, own);
    }
  }
  return { placed: joined, misfits };
}

/** @returns undefined where the photo cannot be read any more, or shows no whole cell. */
async function textureOf(
  path: string,
  viewOf: (photo: Photo) => CellView | undefined,
): Promise<BoardTexture | undefined> {
  const read = await readPhoto(path);
  const view = read.ok ? viewOf(read.value) : undefined;
  return read.ok && view !== undefined ? boardTexture(read.value.grey, view) : undefined;
}

function liesElsewhere(known: BoardTexture, texture: BoardTexture): boolean {
  const match = matchTextures(known, texture);
  if (!match?.clear) return false;
  return match.turns !== 0 || match.shift[0] !== 0 || match.shift[1] !== 0;
}
