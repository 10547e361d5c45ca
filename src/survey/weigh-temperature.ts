/** What temperatures make of the scales: the board between marking and photographing, the machine at 20 °C. */

import type { EvidenceFile } from '../../shared/schemas/evidence.js';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type {
  DeviationRecord,
  Measurement,
  Quantity,
  ScaleAt20,
} from '../../shared/schemas/measurement.js';
import type { Material } from '../../shared/thermal-expansion.js';
import { reduceTo20, type Stretch } from './thermal-expansion.js';
import { widenQuantity } from './widen-quantity.js';

type Scale = Measurement['scale'];

export interface WeighedTemperature {
  readonly scale: Scale;
  readonly deviations: readonly DeviationRecord[];
  readonly scaleAt20?: ScaleAt20;
}

/**
 * The lengths went into the adjustment as they were when the grid was marked; how well that is known is
 * common to all of them, so it widens both scales alike and leaves their ratio.
 *
 * @param swell of the board from marking to photographing.
 */
export function weighTemperature(
  { scale, deviations }: { readonly scale: Scale; readonly deviations: readonly DeviationRecord[] },
  swell: Stretch,
  evidence: EvidenceFile | undefined,
  machine: MachineFile | undefined,
): WeighedTemperature {
  const isTold = scale.x.state !== 'undetermined';
  const widened: Scale = {
    x: widen(scale.x, swell.u),
    y: widen(scale.y, swell.u),
    ratio: scale.ratio,
  };
  const scaleAt20 = reduce(widened, evidence?.marked?.temperature, machine);
  return {
    scale: widened,
    // Deviations hold the scale where it is told.
    deviations: deviations.map((one) =>
      isTold && swell.u > 0 ? { ...one, u: Math.hypot(one.u, one.commanded * swell.u) } : one,
    ),
    ...(scaleAt20 === undefined ? {} : { scaleAt20 }),
  };
}

function reduce(
  scale: Scale,
  markedAt: number | undefined,
  machine: MachineFile | undefined,
): ScaleAt20 | undefined {
  if (markedAt === undefined) return undefined;
  const reduced = (['x', 'y'] as const).flatMap((axis) => {
    const quantity = scale[axis];
    const material = materialOfAxis(machine, axis);
    if (quantity.state !== 'measured' || material === undefined) return [];
    return [[axis, reduceTo20(quantity, material, markedAt)] as const];
  });
  return reduced.length === 0 ? undefined : { markedAt, ...Object.fromEntries(reduced) };
}

/** Screws and racks are of steel (common practice, no source); what reinforces a belt is not known. */
function materialOfAxis(machine: MachineFile | undefined, axis: 'x' | 'y'): Material | undefined {
  const { material, drive } = machine?.axes?.[axis] ?? {};
  return material ?? (drive === 'screw' || drive === 'rack' ? 'steel' : undefined);
}

/** By a relative uncertainty of lengths, which is one of the true length over the commanded one. */
function widen(quantity: Quantity, relative: number): Quantity {
  if (quantity.state === 'undetermined') return quantity;
  return widenQuantity(quantity, (1 + quantity.value) * relative, 'evidence');
}
