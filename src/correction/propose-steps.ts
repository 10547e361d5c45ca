/** New steps per unit. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Estimate, ProposalRecord } from '../../shared/schemas/measurement.js';
import { stepsByGeometry } from '../machine/index.js';
import { MOVES_CHANGE } from './cautions.js';
import type { scaleAt20Felt } from './scale-at-20.js';
import { wrongEntryOf } from './wrong-entry.js';

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
  const slip = wrongEntryOf(e, scale.u, machine?.axes?.[axis]?.drive);
  const theory = `${slip === undefined ? '' : `; the error is close to ${slip}: look at the entry before wear is blamed`}${explainTheory(machine, axis)}`;
  const expected = { value: 0, U: scale.U * 1000, unit: 'mm/m' };
  if (from === undefined) {
    const percent = (1 / (1 + e) - 1) * 100;
    return {
      ...base,
      amount: percent,
      unit: '%',
      U: (scale.U / (1 + e) ** 2) * 100,
      why: `${travels}: change its steps per unit by this share of what stands there now (give stepsPerMm in the machine file to see the number itself)${theory}${explainTemperature(felt, scale, undefined)}`,
      expected,
      cautions: [MOVES_CHANGE],
    };
  }
  const U = (from * scale.U) / (1 + e) ** 2;
  const tolerance = U * ROUNDING_SHARE;
  const geometric = stepsByGeometry(machine?.axes?.[axis]);
  const corrected = from / (1 + e);
  // Within the uncertainty the drive's own figure is the better one.
  const isGeometric = geometric !== undefined && Math.abs(geometric - corrected) <= U;
  const to = isGeometric
    ? Number(geometric.toFixed(MOST_DECIMALS))
    : roundWithin(corrected, tolerance);
  const at20 = felt && roundWithin(from / (1 + felt.at20.value), tolerance);
  return {
    ...base,
    from,
    to,
    amount: to - from,
    unit: 'steps/mm',
    U,
    why: `${travels}: ${isGeometric ? `what the drive's geometry says, which lies within U of the old steps per mm divided by what one commanded millimetre really is` : `old steps per mm divided by what one commanded millimetre really is${explainGeometry(geometric)}`}${theory}${explainTemperature(felt, scale, at20)}`,
    expected,
    cautions: [MOVES_CHANGE],
  };
}

function explainGeometry(geometric: number | undefined): string {
  if (geometric === undefined) return '';
  return `; by the drive's geometry it would be ${Number(geometric.toFixed(3))}`;
}

/**
 * How far the travel of a drive may be off its geometry; relative. Screw: 0.21 mm over 300 mm (ISO 3408-3 grade 10, value from
 * memory). Racks and belts: common practice, no source.
 */
const DRIVE_TRUE_TO = { screw: 0.7e-3, rack: 0.7e-3, belt: 2e-3 } as const;
/** A setting that is its geometry's to the last digit anybody enters. */
const SAME_STEPS = 2e-5;

/**
 * Where the setting is what the drive's geometry says and the error is larger than such a drive can have, the fault
 * lies elsewhere; undefined where a change is sensible.
 */
export function refuseByGeometry(
  axis: 'x' | 'y',
  scale: Estimate,
  machine: MachineFile | undefined,
): string | undefined {
  const drive = machine?.axes?.[axis];
  const geometric = stepsByGeometry(drive);
  if (drive?.drive === undefined || drive.stepsPerMm === undefined || geometric === undefined) {
    return undefined;
  }
  if (Math.abs(drive.stepsPerMm / geometric - 1) > SAME_STEPS) return undefined;
  const most = DRIVE_TRUE_TO[drive.drive];
  if (Math.abs(scale.value) - scale.U <= most) return undefined;
  return `the setting is what the drive's geometry says, and no sound ${drive.drive} is off by ${Math.abs(scale.value * 1000).toFixed(2)} mm/m (up to ${most * 1000} mm/m): check the taped length, the parts' figures and the drive for slip before steps per unit are changed${slipWords(scale, drive.drive)}`;
}

function slipWords(scale: Estimate, drive: 'screw' | 'rack' | 'belt'): string {
  const slip = wrongEntryOf(scale.value, scale.u, drive);
  return slip === undefined ? '' : `; the error is close to ${slip}`;
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
