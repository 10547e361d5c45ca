/** After how much travel an error of a drive repeats. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Axis } from './machine-model.js';

/** Lead of a screw, travel per turn of a pinion or a pulley, mm; empty where the machine file does not say. */
export function periodOf(machine: MachineFile | undefined, axis: Axis): { x?: number; y?: number } {
  const drive = machine?.axes?.[axis];
  const period = drive?.lead ?? drive?.pinionTravel ?? drive?.pulleyTravel;
  return period === undefined ? {} : { [axis]: period };
}
