/** What adds to an uncertainty after the adjustment. */

import { COVERAGE_FACTOR, type Estimate, type Quantity } from '../../shared/schemas/measurement.js';

/** Half the width of a rectangular distribution in its standard deviations (GUM 4.3.7). */
export const RECTANGULAR = Math.sqrt(3);

/**
 * A quantity with one more part in its uncertainty, independent of all others.
 *
 * @param added standard uncertainty, in the quantity's unit.
 * @param source which share of the variance it counts to.
 */
export function widenQuantity(
  quantity: Quantity,
  added: number,
  source: 'drift' | 'evidence' | 'marks',
): Quantity {
  if (quantity.state === 'undetermined' || added === 0) return quantity;
  const u = Math.hypot(quantity.u, added);
  const { share } = quantity;
  return {
    ...quantity,
    u,
    U: COVERAGE_FACTOR * u,
    ...(share === undefined ? {} : { share: dilute(share, (quantity.u / u) ** 2, source) }),
  };
}

function dilute(
  share: NonNullable<Estimate['share']>,
  kept: number,
  source: 'drift' | 'evidence' | 'marks',
): NonNullable<Estimate['share']> {
  const { photos, marks, evidence, camera, drift } = share;
  const left = {
    photos: kept * photos,
    marks: kept * marks,
    evidence: kept * evidence,
    camera: kept * camera,
    ...(drift === undefined ? {} : { drift: kept * drift }),
  };
  return { ...left, [source]: (left[source] ?? 0) + 1 - kept };
}
