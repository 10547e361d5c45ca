/** The same marks under other line numbers: the map they give when the program is turned or shifted. */

import { fitImageMap, type LineSighting } from './fit-image-map.js';
import type { ImageMap } from './image-map.js';
import { compose } from './placement-turns.js';
import type { ProgramGrid } from './program-grid.js';

/** A moved line farther than this from any line of the program has no partner; share of the pitch. */
const PARTNER = 0.45;

/**
 * Fits a map to sightings whose lines are renumbered. A map bent onto the wrong unequal spacings cannot be
 * found back from by searching near its lines; the marks themselves it has seen right.
 *
 * @param sightings under the old numbers.
 * @param map the old placement.
 * @param move affine [a b c; d e f], new commanded → old commanded, about whole lines.
 */
export function refitRelabelled(
  sightings: readonly LineSighting[],
  map: ImageMap,
  move: readonly number[],
  grid: ProgramGrid,
): { map: ImageMap; used: readonly LineSighting[] } | undefined {
  const [a, b, c, d, e, f] = move;
  const det = a * e - b * d;
  const isQuarter = Math.abs(a) < Math.abs(b);
  const renumbered: LineSighting[] = [];
  for (const seen of sightings) {
    if (seen.family === 2) continue;
    const family = isQuarter ? 1 - seen.family : seen.family;
    const place = [
      (e * (seen.xMm - c) - b * (seen.yMm - f)) / det,
      (a * (seen.yMm - f) - d * (seen.xMm - c)) / det,
    ];
    const lines = family === 0 ? grid.xs : grid.ys;
    const line = lines.reduce((best, at) =>
      Math.abs(at - place[family]) < Math.abs(best - place[family]) ? at : best,
    );
    if (Math.abs(line - place[family]) > PARTNER * grid.pitchMm[family]) continue;
    place[family] = line;
    renumbered.push({ ...seen, family: family as 0 | 1, xMm: place[0], yMm: place[1] });
  }
  const fitted = fitImageMap(compose(map, move), renumbered);
  return fitted === undefined ? undefined : { map: fitted, used: renumbered };
}
