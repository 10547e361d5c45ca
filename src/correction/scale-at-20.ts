/** Where the temperature at which the grid was marked is felt in the scale. */

import type { Estimate, Measurement } from '../../shared/schemas/measurement.js';

/**
 * The scale that the axis has at 20 °C (ISO 1), where it differs from that at marking by more than the scale's
 * standard uncertainty; undefined: the difference would be read into noise, or is not known.
 */
export function scaleAt20Felt(
  { scale, scaleAt20 }: Pick<Measurement, 'scale' | 'scaleAt20'>,
  axis: 'x' | 'y',
): { readonly markedAt: number; readonly at20: Estimate } | undefined {
  const own = scale[axis];
  const at20 = scaleAt20?.[axis];
  if (scaleAt20 === undefined || at20 === undefined || own.state === 'undetermined')
    return undefined;
  if (Math.abs(at20.value - own.value) <= own.u) return undefined;
  return { markedAt: scaleAt20.markedAt, at20 };
}
