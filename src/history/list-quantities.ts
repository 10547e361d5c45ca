/** The quantities of a measurement by their names, as trends need them. */

import type { ForecastName } from '../../shared/schemas/forecast.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';

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

export function listQuantities({
  squareness,
  scale,
  lostMotion,
  straightness,
  racking,
  periodic,
  drift,
}: Measurement): StoredQuantities {
  const all: [QuantityName, Quantity | undefined][] = [
    ['squareness', squareness],
    ['scale.x', scale.x],
    ['scale.y', scale.y],
    ['scale.ratio', scale.ratio],
    ['lostMotion.x', lostMotion.x],
    ['lostMotion.y', lostMotion.y],
    ['straightness.x', straightness.x],
    ['straightness.y', straightness.y],
    ['racking', racking],
    ['periodic.x', periodic?.x],
    ['periodic.y', periodic?.y],
    ['drift.x', drift?.x],
    ['drift.y', drift?.y],
  ];
  return Object.fromEntries(
    all.flatMap(([name, quantity]) => (quantity === undefined ? [] : [[name, store(quantity)]])),
  );
}

function store(quantity: Quantity): StoredQuantity {
  if (quantity.state === 'undetermined') return { state: 'undetermined' };
  const { state, value, u } = quantity;
  return { state, value, u };
}
