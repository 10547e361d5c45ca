/** The quantities of a measurement, or of anything that has them, by the keys that people and files call them by. */

import type { MachineKey } from '../../shared/quantity-keys.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';

export type MachineQuantities = Pick<
  Measurement,
  'squareness' | 'scale' | 'lostMotion' | 'straightness' | 'racking'
>;

export function quantitiesByKey({
  squareness,
  scale,
  lostMotion,
  straightness,
  racking,
}: MachineQuantities): Record<MachineKey, Quantity> {
  return {
    squareness,
    'scale.x': scale.x,
    'scale.y': scale.y,
    'scale.ratio': scale.ratio,
    'lostMotion.x': lostMotion.x,
    'lostMotion.y': lostMotion.y,
    'straightness.x': straightness.x,
    'straightness.y': straightness.y,
    racking,
  };
}
