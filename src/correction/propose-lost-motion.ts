/** Play first by hand, the compensation setting only for what cannot be taken out. */

import type { Estimate, ProposalRecord } from '../../shared/schemas/measurement.js';
import { COMPENSATION_JUMPS, HANDS_IN_MACHINE } from './cautions.js';

/** Where the play of each kind of drive sits; common practice, no source. */
const PLACES = {
  screw: 'nut, thrust bearing, coupling',
  rack: 'pressure of pinion on rack, set screws, play in the reduction',
  belt: 'belt tension, set screws of the pulleys',
} as const;

/** @param lostMotion mm; + : the carriage lags the command, - : the setting overcompensates. */
export function proposeLostMotion(
  axis: 'x' | 'y',
  lostMotion: Estimate,
  drive: keyof typeof PLACES | undefined,
): ProposalRecord {
  const name = axis.toUpperCase();
  const base = {
    what: `lostMotion.${axis}`,
    leaveAlone: false,
    amount: Math.abs(lostMotion.value),
    U: lostMotion.U,
    unit: 'mm',
    expected: { value: 0, U: lostMotion.U, unit: 'mm' },
    side: `${name} drive`,
  };
  if (lostMotion.value < 0) {
    return {
      ...base,
      direction: 'less compensation',
      why: `after a reversal ${name} moves farther than commanded: its lost-motion setting compensates too much; reduce the setting by this amount`,
      cautions: [COMPENSATION_JUMPS],
    };
  }
  const places = drive === undefined ? Object.values(PLACES).join(', ') : PLACES[drive];
  return {
    ...base,
    direction: 'less play',
    why: `after a reversal ${name} stays behind the command: take the play out by hand first (${places}) and measure again; only what then remains goes into the lost-motion setting, on top of what stands there, and rather a little less`,
    cautions: [HANDS_IN_MACHINE, COMPENSATION_JUMPS],
  };
}
