/** New steps per unit. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Estimate, ProposalRecord } from '../../shared/schemas/measurement.js';
import { MOVES_CHANGE } from './cautions.js';
import type { scaleAt20Felt } from './scale-at-20.js';

/** Rounding may take this share of the expanded uncertainty: 0.02² is lost in a sum of squares. */
const ROUNDING_SHARE = 0.02;
const MOST_DECIMALS = 6;

/**
 * A command of length L makes N·L steps and travels L (1 + e): N / (1 + e) steps are one true
 * millimetre.
 *
 * @param scale ratio, (true - commanded) / commanded, at the temperature at which the grid was marked.
 * @param felt the same at 20 °C, where that makes a difference.
 */
export function proposeSteps(
  axis: 'x' | 'y',
  scale: Estimate,
  machine: MachineFile | undefined,
  felt?: ReturnType<typeof scaleAt20Felt>,
): ProposalRecord {
  const name = axis.toUpperCase();
  const e = scale.value;
  const tooFar = e > 0;
  const from = machine?.axes?.[axis]?.stepsPerMm;
  const base = {
    what: `scale.${axis}`,
    leaveAlone: false,
    direction: tooFar ? 'fewer steps per mm' : 'more steps per mm',
    side: `${name} axis`,
  };
  const travels = `${name} travels too ${tooFar ? 'far' : 'short'}`;
  const theory = explainTheory(machine, axis);
  if (from === undefined) {
    const percent = (1 / (1 + e) - 1) * 100;
    return {
      ...base,
      amount: percent,
      unit: '%',
      U: (scale.U / (1 + e) ** 2) * 100,
      why: `${travels}: change its steps per unit by this share of what stands there now (give stepsPerMm in the machine file to see the number itself)${theory}${explainTemperature(felt, scale, undefined)}`,
      cautions: [MOVES_CHANGE],
    };
  }
  const U = (from * scale.U) / (1 + e) ** 2;
  const tolerance = U * ROUNDING_SHARE;
  const to = roundWithin(from / (1 + e), tolerance);
  const at20 = felt && roundWithin(from / (1 + felt.at20.value), tolerance);
  return {
    ...base,
    from,
    to,
    amount: to - from,
    unit: 'steps/mm',
    U,
    why: `${travels}: old steps per mm divided by what one commanded millimetre really is${theory}${explainTemperature(felt, scale, at20)}`,
    cautions: [MOVES_CHANGE],
  };
}

/** The shortest decimal within the tolerance. */
function roundWithin(value: number, tolerance: number): number {
  for (let decimals = 0; decimals < MOST_DECIMALS; decimals += 1) {
    const rounded = Number(value.toFixed(decimals));
    if (Math.abs(rounded - value) <= tolerance) return rounded;
  }
  return Number(value.toFixed(MOST_DECIMALS));
}

/**
 * A screw's lead is true to some 0.05 mm over 300 mm (ISO 3408-3 grades 5 and 7, values from memory):
 * a larger error speaks against the setting or the tape.
 */
const SCREW_TRUE_TO = 0.2e-3;

function explainTheory(machine: MachineFile | undefined, axis: 'x' | 'y'): string {
  if (machine?.axes?.[axis]?.drive !== 'screw') return '';
  return `; a good screw is true to about ${SCREW_TRUE_TO * 100} %: where this is more, check the setting against steps per turn and lead, and the tape, before changing it`;
}

/** Steps hold for one temperature of the machine: wood is cut true at that of the shop, metal at 20 °C. */
function explainTemperature(
  felt: ReturnType<typeof scaleAt20Felt>,
  scale: Estimate,
  stepsAt20: number | undefined,
): string {
  if (felt === undefined) return '';
  const change = (felt.at20.value - scale.value) * 1000;
  const amount = `${Math.abs(change).toFixed(3)} mm/m ${change < 0 ? 'shorter' : 'farther'}`;
  const steps = stepsAt20 === undefined ? '' : `; true at 20 °C with ${stepsAt20} steps/mm`;
  return `; that is right with the machine at ${felt.markedAt} °C as when it marked: at 20 °C it travels ${amount}${steps}`;
}
