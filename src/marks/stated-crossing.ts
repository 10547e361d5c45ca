/** What somebody says of a photo: that crossing of the program is here. */

import { type ImageMap, imageFromCommanded } from './image-map.js';
import type { ProgramGrid } from './program-grid.js';

/** A commanded crossing and where in the picture it was said to be. */
export interface StatedCrossing {
  readonly xMm: number;
  readonly yMm: number;
  /** Sensor frame, pixel centres at whole numbers. */
  readonly uPx: number;
  readonly vPx: number;
}

/** A stated crossing is meant where it lies within this of its place; share of the gap. */
const STATED = 0.4;

/** True where the map puts every stated crossing nearest to where it was said to be. */
export function agreesWithStated(
  map: ImageMap,
  stated: readonly StatedCrossing[],
  { pitchMm }: ProgramGrid,
): boolean {
  return stated.every(({ xMm, yMm, uPx, vPx }) => {
    const at = imageFromCommanded(map, xMm, yMm);
    const [alongX, alongY] = [
      imageFromCommanded(map, xMm + pitchMm[0], yMm),
      imageFromCommanded(map, xMm, yMm + pitchMm[1]),
    ].map(([u, v]) => [u - at[0], v - at[1]]);
    const det = alongX[0] * alongY[1] - alongX[1] * alongY[0];
    const du = uPx - at[0];
    const dv = vPx - at[1];
    const gapsX = (alongY[1] * du - alongY[0] * dv) / det;
    const gapsY = (alongX[0] * dv - alongX[1] * du) / det;
    return Math.abs(gapsX) < STATED && Math.abs(gapsY) < STATED;
  });
}
