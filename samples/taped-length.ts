/** A length read with a tape between two marks. */

import { gridLines, landedPosition } from './machine-errors.js';
import type { RandomSource } from './random-source.js';
import type { Scene } from './scene.js';

export interface TapedLength {
  /** Commanded positions; mm. */
  readonly fromMm: readonly [number, number];
  readonly toMm: readonly [number, number];
  /** As read, with the error of reading. */
  readonly lengthMm: number;
  readonly trueLengthMm: number;
  readonly uMm: number;
}

/**
 * Tapes a length along X or along a diagonal of the grid, between crossings.
 *
 * Both ends are read at places marked on both approaches alike, so that lost motion has no part in
 * the true length: it goes between the lines' mean places.
 */
export function drawTapedLength(scene: Scene, uMm: number, random: RandomSource): TapedLength {
  const { xMm, yMm } = gridLines(scene.strokes);
  const right = xMm[xMm.length - 1] ?? 0;
  const upper = yMm[yMm.length - 1] ?? 0;
  const fromMm = [xMm[0] ?? 0, yMm[0] ?? 0] as const;
  const diagonal = random.uniform() < 0.4;
  const toMm = diagonal ? ([right, upper] as const) : ([right, fromMm[1]] as const);
  return tapeLength(scene, fromMm, toMm, uMm, uMm * random.normal());
}

/** Tapes the length between two commanded points, with a given error of reading. */
export function tapeLength(
  scene: Scene,
  fromMm: readonly [number, number],
  toMm: readonly [number, number],
  uMm: number,
  errorMm: number,
): TapedLength {
  const from = landedPosition(scene.machine, fromMm[0], fromMm[1], 0, 0);
  const to = landedPosition(scene.machine, toMm[0], toMm[1], 0, 0);
  const trueLengthMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const lengthMm = Math.round((trueLengthMm + errorMm) * 100) / 100;
  return { fromMm, toMm, lengthMm, trueLengthMm, uMm };
}

/** The form `X1,Y1 X2,Y2 LENGTH U`. */
export function tapedLengthText({ fromMm, toMm, lengthMm, uMm }: TapedLength): string {
  return `${fromMm[0]},${fromMm[1]} ${toMm[0]},${toMm[1]} ${lengthMm} ${uMm}`;
}
