/** What one more photo would bring, in a line; only where it is worth the walk. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { QUANTITY_NAME } from './quantity-words.js';
import { showUncertainty, type Units } from './show-number.js';

/** A gain below a tenth is within the chance of how the photo is taken. */
const WORTH_TELLING = 0.9;

type OneMore = NonNullable<NonNullable<Measurement['adjustment']>['oneMore']>[number];

/** `one more photo like p3.jpg: squareness ± 0.15 → 0.12 mm/m`; a photo that serves both is told once. */
export function oneMoreTexts(
  { adjustment }: Pick<Measurement, 'adjustment'>,
  units: Units,
): string[] {
  const gains = (adjustment?.oneMore ?? []).filter(
    ({ U }) => U.from === undefined || U.to < WORTH_TELLING * U.from,
  );
  const photos = [...new Set(gains.map(({ photo }) => photo))];
  return photos.map((photo) => {
    const parts = gains
      .filter((one) => one.photo === photo)
      .map(({ quantity, state, U }) => `${QUANTITY_NAME[quantity]} ${showGain(state, U, units)}`);
    return `one more photo ${photo}: ${parts.join(', ')}`;
  });
}

function showGain(state: OneMore['state'], { from, to }: OneMore['U'], units: Units): string {
  const then = showUncertainty('slope', to, units);
  const weakly = state === 'weak' ? ', still weak' : '';
  if (from === undefined) {
    return `would be ${state === 'weak' ? 'weakly known' : 'measured'} to ± ${then}`;
  }
  return `± ${showUncertainty('slope', from, units)} → ± ${then}${weakly}`;
}
