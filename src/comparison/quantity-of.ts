/** Where a compared quantity stands in a measurement. */

import type { ComparedName } from '../../shared/schemas/comparison.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';

export type Comparable = Pick<
  Measurement,
  'squareness' | 'scale' | 'lostMotion' | 'straightness' | 'racking'
>;

export function quantityOf(measurement: Comparable, what: ComparedName): Quantity {
  const { squareness, scale, lostMotion, straightness, racking } = measurement;
  switch (what) {
    case 'squareness':
      return squareness;
    case 'racking':
      return racking;
    case 'scale.x':
      return scale.x;
    case 'scale.y':
      return scale.y;
    case 'scale.ratio':
      return scale.ratio;
    case 'lostMotion.x':
      return lostMotion.x;
    case 'lostMotion.y':
      return lostMotion.y;
    case 'straightness.x':
      return straightness.x;
    case 'straightness.y':
      return straightness.y;
  }
}
