/** Whether what a search returned for a drawn board is right. */

import { type ImageMap, imageFromCommanded } from '../../../src/marks/image-map.js';
import type { BoardScene } from './random-board.js';

export type Score = 'right' | 'refused' | 'wrong';

/** A placement counts as right where every corner lies within this share of a gap. */
const CORNER_SHARE = 0.25;

export interface Placements {
  readonly map: ImageMap;
  readonly rivals: readonly { readonly map: ImageMap }[];
}

/** @param found undefined where the search refused. */
export function scoreBoard(scene: BoardScene, found: Placements | undefined): Score {
  if (found === undefined) return 'refused';
  if (!scene.isProgramTrue) return 'wrong';
  const maps = [found.map, ...found.rivals.map((rival) => rival.map)];
  return Math.min(...maps.map((map) => cornersOff(scene, map))) <= CORNER_SHARE ? 'right' : 'wrong';
}

/** Farthest corner from where it truly lies, gaps. */
export function cornersOff(scene: BoardScene, map: ImageMap, turn = 0): number {
  const off = scene.cornersMm.map(([x, y], k) => {
    const [u, v] = imageFromCommanded(map, x, y);
    const [uTrue, vTrue] = scene.cornersPx[(k + turn) % 4]!;
    return Math.hypot(u - uTrue, v - vTrue);
  });
  return Math.max(...off) / scene.gapPx;
}
