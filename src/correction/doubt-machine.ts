/** Whether a machine file is that of the machine that was measured. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import type { Finding } from '../quantity/index.js';

/** Steps, limits and sides of another machine would be proposed for this one without a word. */
export function doubtMachine(
  measurement: Pick<Measurement, 'machine' | 'gantryAxis'>,
  machine: MachineFile | undefined,
): Finding[] {
  return [
    ...doubtName(measurement.machine, machine?.name),
    ...doubtGantryAxis(measurement.gantryAxis, machine?.gantryAxis),
  ];
}

export function doubtName(measured: string | undefined, stated: string | undefined): Finding[] {
  if (stated === undefined || measured === undefined || stated === measured) return [];
  return [
    {
      code: 'MACHINE_DIFFERS',
      message: `the machine file is of “${stated}”, the measurement of “${measured}”`,
      hint: 'what follows is for one machine: see that both are it',
    },
  ];
}

export function doubtGantryAxis(
  measured: Measurement['gantryAxis'],
  stated: MachineFile['gantryAxis'],
): Finding[] {
  if (stated === undefined || stated === measured) return [];
  return [
    {
      code: 'GANTRY_AXIS_DIFFERS',
      message: `the machine file says that the gantry travels along ${stated}, the measurement ${measured}`,
      hint: 'measure again with this machine file',
    },
  ];
}
