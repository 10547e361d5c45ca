/** The quantities of a measurement by their names, as trends need them. */

import type { ForecastName } from '../../shared/schemas/forecast.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import { quantitiesByKey } from '../quantity/index.js';

export type QuantityName = ForecastName;

export type StoredQuantity =
  | {
      readonly state: 'measured' | 'weak';
      /** rad, ratio, mm or rad/m, as in the measurement. */
      readonly value: number;
      /** Standard uncertainty. */
      readonly u: number;
    }
  | { readonly state: 'undetermined' };

export type StoredQuantities = Partial<Record<QuantityName, StoredQuantity>>;

export function listQuantities(measurement: Measurement): StoredQuantities {
  const { periodic, drift } = measurement;
  const all: Partial<Record<QuantityName, Quantity>> = {
    ...quantitiesByKey(measurement),
    ...(periodic === undefined ? {} : { 'periodic.x': periodic.x, 'periodic.y': periodic.y }),
    ...(drift === undefined ? {} : { 'drift.x': drift.x, 'drift.y': drift.y }),
  };
  return Object.fromEntries(Object.entries(all).map(([name, quantity]) => [name, store(quantity)]));
}

function store(quantity: Quantity): StoredQuantity {
  if (quantity.state === 'undetermined') return { state: 'undetermined' };
  const { state, value, u } = quantity;
  return { state, value, u };
}
