/** Sets of photos as views of the grid. */

import type { Forecast } from '../../shared/schemas/forecast.js';
import { type Extent, type PlannedView, spanOf } from '../network/index.js';
import { sampleNormal } from '../numerics/index.js';

/** Photos of one kind, as the forecast's schema describes them. */
export type PhotoGroup = Forecast['photos'][number];
export type PhotoKind = PhotoGroup['kind'];

/**
 * Tilts where none is stated: from above by eye and a level, as photos are asked for (1 to 2°); walked round
 * as one sees a table. Common practice, no source.
 */
export const USUAL_TILT_RAD: Record<PhotoKind, number> = {
  overhead: (2 * Math.PI) / 180,
  unturned: (2 * Math.PI) / 180,
  walked: (20 * Math.PI) / 180,
};

export const MOST_PHOTOS = 40;
/** Ways in which hands may hold the phone for one set; of many photos each one counts for less. */
const DRAWS = 7;
const DRAWS_OF_MANY = 3;
const MANY = 16;

/** How many draws are foretold for a set. */
export function countDraws(groups: readonly PhotoGroup[]): number {
  return groups.reduce((sum, { count }) => sum + count, 0) > MANY ? DRAWS_OF_MANY : DRAWS;
}

/** Hands tilt by a stated angle only about so; they turn by 2° and aim by a hundredth of the span. No source. */
const TILT_SPREAD = 0.15;
const LEAST_TILT_FACTOR = 0.5;
const ROLL_SPREAD_RAD = (2 * Math.PI) / 180;
const AIM_SPREAD = 0.01;
const VALUES = 6;

/**
 * The views of a set. Where photos from above tilt to is left to chance, and so are small departures
 * of all: the same ones for the same draw.
 *
 * @param draw from 0, below `countDraws`.
 */
export function viewsOf(
  groups: readonly PhotoGroup[],
  extent: Extent,
  draw: number,
): PlannedView[] {
  const span = spanOf(extent);
  const chance = departures(draw);
  return groups
    .flatMap(({ kind, count, tiltRad }) =>
      Array.from({ length: count }, (_, k) => ({ kind, tiltRad, k, count })),
    )
    .map(({ kind, tiltRad, k, count }, photo) => {
      const [a, b, tilt, roll, aimX, aimY] = chance[photo];
      const own = {
        tiltRad: tiltRad * Math.max(LEAST_TILT_FACTOR, 1 + TILT_SPREAD * tilt),
        aimMm: [AIM_SPREAD * span * aimX, AIM_SPREAD * span * aimY] as const,
      };
      if (kind === 'walked') {
        // From the front: the picture's upper edge lies away from whoever holds the phone.
        const towardRad = -Math.PI / 2 + (2 * Math.PI * k) / count;
        return { ...own, towardRad, rollRad: towardRad + Math.PI / 2 + ROLL_SPREAD_RAD * roll };
      }
      const quarters = kind === 'overhead' ? k : 0;
      return {
        ...own,
        towardRad: Math.atan2(b, a),
        rollRad: (quarters * Math.PI) / 2 + ROLL_SPREAD_RAD * roll,
      };
    });
}

/** Six standard normal numbers for every photo of a draw. */
function departures(draw: number): number[][] {
  const unit = Array.from({ length: VALUES }, (_, i) =>
    Array.from({ length: VALUES }, (_, j) => (i === j ? 1 : 0)),
  );
  const all = sampleNormal(new Array<number>(VALUES).fill(0), unit, DRAWS * MOST_PHOTOS);
  if (all === undefined) throw new Error('the unit matrix is positive definite');
  return all.slice(draw * MOST_PHOTOS, (draw + 1) * MOST_PHOTOS);
}
