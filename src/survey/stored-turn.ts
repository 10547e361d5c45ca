/**
 * Photos that software stored turned: their pixels are no longer in the sensor's own frame, and lens
 * and pixel shape turned with them. Measured positions are turned back; no pixel is touched.
 */

import type { ImageMap, SegmentObservation } from '../marks/index.js';
import type { SensorPoint } from '../quantity/index.js';

/** Clockwise turn, as seen in the picture, that software gave the stored pixels; degrees. */
export type StoredTurn = 0 | 90 | 270;

export interface PixelSize {
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Size of the sensor's frame behind a stored picture. */
export function sensorSize(stored: PixelSize, turn: StoredTurn): PixelSize {
  return turn === 0 ? stored : { widthPx: stored.heightPx, heightPx: stored.widthPx };
}

/** Stored pixel → pixel of the sensor's own frame. */
export function sensorFromStored(stored: PixelSize, turn: StoredTurn, u: number, v: number) {
  // Stored clockwise by 90°: the sensor's top row became the right column.
  if (turn === 90) return [v, stored.widthPx - 1 - u] as SensorPoint;
  if (turn === 270) return [stored.heightPx - 1 - v, u] as SensorPoint;
  return [u, v] as SensorPoint;
}

/** The inverse of `sensorFromStored`. */
export function storedFromSensor(stored: PixelSize, turn: StoredTurn, u: number, v: number) {
  if (turn === 90) return [stored.widthPx - 1 - v, u] as SensorPoint;
  if (turn === 270) return [v, stored.heightPx - 1 - u] as SensorPoint;
  return [u, v] as SensorPoint;
}

export function turnObservation(
  stored: PixelSize,
  turn: StoredTurn,
  seen: SegmentObservation,
): SegmentObservation {
  const [uPx, vPx] = sensorFromStored(stored, turn, seen.uPx, seen.vPx);
  const [u1, v1] = sensorFromStored(stored, turn, seen.uPx + seen.normalU, seen.vPx + seen.normalV);
  return { ...seen, uPx, vPx, normalU: u1 - uPx, normalV: v1 - vPx };
}

export function turnMap(stored: PixelSize, turn: StoredTurn, map: ImageMap): ImageMap {
  if (turn === 0) return map;
  const h = map.homography;
  const row = (i: number) => [h[3 * i], h[3 * i + 1], h[3 * i + 2]];
  const [first, second, third] = [row(0), row(1), row(2)];
  const mirrored = (last: number, values: number[]) => third.map((w, k) => last * w - values[k]);
  const rows =
    turn === 90
      ? [second, mirrored(stored.widthPx - 1, first)]
      : [mirrored(stored.heightPx - 1, second), first];
  return {
    ...map,
    homography: Float64Array.from([...rows[0], ...rows[1], ...third]),
    centrePx: sensorFromStored(stored, turn, map.centrePx[0], map.centrePx[1]),
  };
}
