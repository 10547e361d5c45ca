/** What squareness and the ratio of the scales rest on, and what another way says of them. */

import type { Measurement, MethodRecord, Quantity } from '../../shared/schemas/measurement.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { fixed, showValue, type Units } from './show-number.js';

const RESTS_ON: Record<MethodRecord['method'], string> = {
  'turned board':
    'squareness and scale X : Y rest on marks made in two positions of the board (turned board); nothing is believed of the camera',
  photos:
    'squareness and scale X : Y rest on photos of one grid, with what is usual for phone cameras',
};

const BY_ITSELF: Record<MethodRecord['method'], string> = {
  'turned board': 'the turned board alone',
  photos: 'the photos of the first grid alone',
};

/** Sentences; none where no picture was used. */
export function methodTexts(
  { methods = [] }: Pick<Measurement, 'methods'>,
  units: Units,
): string[] {
  const [used, ...others] = methods;
  if (used === undefined) return [];
  return [
    RESTS_ON[used.method],
    ...others.map(({ method, squareness, ratio }) => {
      const parts = [
        showOther('squareness', squareness, used.squareness, units),
        showOther('scale.ratio', ratio, used.ratio, units),
      ];
      return `${BY_ITSELF[method]}: ${parts.join('; ')}`;
    }),
  ];
}

function showOther(
  what: 'squareness' | 'scale.ratio',
  other: Quantity,
  own: Quantity,
  units: Units,
): string {
  const name = QUANTITY_NAME[what];
  if (other.state === 'undetermined') return `${name} undetermined`;
  const shown = `${name} ${showValue(MEASURE_OF[what], other.value, other.U, units).withU}`;
  if (own.state === 'undetermined') return shown;
  const En = Math.abs(other.value - own.value) / Math.hypot(other.U, own.U);
  return `${shown}, En ${fixed(En, 2)}`;
}
