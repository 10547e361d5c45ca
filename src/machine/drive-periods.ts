/** After how much travel an error of a drive repeats. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import { travelPerTurn } from './drive-geometry.js';

/** Lead of a screw, travel per turn of a pinion or a pulley, mm; absent where the machine file does not say. */
export function drivePeriods(machine: MachineFile | undefined): { x?: number; y?: number } {
  const periods: { x?: number; y?: number } = {};
  for (const axis of ['x', 'y'] as const) {
    const period = travelPerTurn(machine?.axes?.[axis]);
    if (period !== undefined) periods[axis] = period;
  }
  return periods;
}
