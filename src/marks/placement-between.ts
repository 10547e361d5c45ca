/** Where one program's marks lie on the board against another's, from the two maps into one picture. */

import { fitAffine } from './fit-affine.js';
import { commandedFromImage, type ImageMap, imageFromCommanded } from './image-map.js';
import type { ProgramGrid } from './program-grid.js';

export interface PlacementBetween {
  /** Turn of the second's frame against the first's, anticlockwise; rad. */
  readonly rotationRad: number;
  /** Where the second's commanded origin lies in the first's frame; mm. */
  readonly shiftMm: readonly [number, number];
  /**
   * Commanded of the second → commanded of the first where the marks lie, machine errors and all:
   * [a b c; d e f].
   */
  readonly firstFromSecond: readonly [number, number, number, number, number, number];
  /** Largest departure of that from a turn and a shift, as share of a length. */
  readonly unlike: number;
}

/** Places per side at which the maps are compared. */
const SIDE = 7;

/** @returns undefined where the maps are mirrored against each other. */
export function placementBetween(
  first: ImageMap,
  second: ImageMap,
  { xs, ys }: Pick<ProgramGrid, 'xs' | 'ys'>,
): PlacementBetween | undefined {
  const places: { from: readonly [number, number]; to: readonly [number, number] }[] = [];
  for (let i = 0; i < SIDE; i++) {
    for (let j = 0; j < SIDE; j++) {
      const at = (lines: Float64Array, k: number) =>
        lines[0] + ((lines[lines.length - 1] - lines[0]) * k) / (SIDE - 1);
      const from = [at(xs, i), at(ys, j)] as const;
      places.push({ from, to: commandedFromImage(first, imageFromCommanded(second, ...from)) });
    }
  }
  const affine = fitAffine(places);
  const [a, b, , d, e] = affine;
  if (!(a * e - b * d > 0)) return undefined;
  const rotationRad = Math.atan2(d - b, a + e);
  const [cos, sin] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  // The middle keeps its place; what turns about the origin would carry scale errors into the shift.
  const mean = (pick: (one: (typeof places)[number]) => number) =>
    places.reduce((sum, one) => sum + pick(one), 0) / places.length;
  const [x, y] = [mean(({ from }) => from[0]), mean(({ from }) => from[1])];
  const [X, Y] = [mean(({ to }) => to[0]), mean(({ to }) => to[1])];
  return {
    rotationRad,
    shiftMm: [X - (cos * x - sin * y), Y - (sin * x + cos * y)],
    firstFromSecond: affine,
    unlike: Math.max(...[a - cos, b + sin, d - sin, e - cos].map(Math.abs)),
  };
}
