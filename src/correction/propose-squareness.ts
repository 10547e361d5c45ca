/** Which side of the gantry has to go which way, and by how much. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Estimate, ProposalRecord } from '../../shared/schemas/measurement.js';
import { HANDS_IN_MACHINE, LARGE_OFFSET, MAINS_WIRING, MOVES_CHANGE } from './cautions.js';

type GantryAxis = 'x' | 'y' | 'none';

/** Switches and stiff rails take up no more, between the sides of a gantry, mm. Common practice, no source. */
const MOST_BY_SWITCH_MM = 2;

/**
 * The beam of a gantry that travels along Y lies along X, and the rails run along (s, 1). Square to
 * the rails it would lie along (1, -s): its +X side has to go by s·spacing toward -Y. Along X the
 * beam lies along (s, 1) and has to turn to (0, 1): its +Y side goes by s·spacing toward -X.
 * In both cases the side at the + end of the beam leads where s > 0, the other one where s < 0.
 *
 * @param squareness rad; + : the Y axis leans toward +X.
 */
export function proposeSquareness(
  squareness: Estimate,
  gantryAxis: GantryAxis,
  machine: MachineFile | undefined,
): ProposalRecord {
  const s = squareness.value;
  const leans = `the Y axis leans toward ${s > 0 ? '+X' : '−X'}`;
  if (gantryAxis === 'none') return turnRail(squareness, leans);

  const travel = gantryAxis === 'y' ? 'Y' : 'X';
  const beam = gantryAxis === 'y' ? 'X' : 'Y';
  const side = `${s > 0 ? '+' : '−'}${beam} side`;
  const otherSide = `${s > 0 ? '−' : '+'}${beam} side`;
  const drive = machine?.axes?.[gantryAxis];
  const drives = drive?.drives ?? (drive?.driveSpacing === undefined ? undefined : 2);
  const spacingM = drive?.driveSpacing === undefined ? undefined : drive.driveSpacing / 1000;
  const perMetre = spacingM === undefined || drives === 1;
  // mm over the spacing of the drives, or per metre of the beam.
  const arm = perMetre ? 1000 : spacingM * 1000;
  const base = {
    what: 'squareness',
    leaveAlone: false,
    amount: Math.abs(s) * arm,
    U: squareness.U * arm,
    unit: perMetre ? 'mm/m' : 'mm',
    expected: { value: 0, U: squareness.U * 1000, unit: 'mm/m' },
    side,
    direction: `toward −${travel}`,
  };
  const leads = `${leans}: the ${side} of the gantry is ahead toward +${travel}; or bring the ${otherSide} forward, toward +${travel}, by as much`;
  const per = perMetre ? `; counted per metre of the beam` : '';
  if (drives === 1) {
    return {
      ...base,
      why: `${leads}${per}; one drive: loosen the beam on its carriages and turn or shim it, or turn the rail under it`,
      cautions: [HANDS_IN_MACHINE],
    };
  }
  const missing =
    spacingM === undefined
      ? `; times the distance between the two drives in metres (driveSpacing in the machine file)`
      : '';
  return {
    ...base,
    why: `${leads}${per}${missing}${explainSwitch(s, gantryAxis, machine)}`,
    cautions: [
      HANDS_IN_MACHINE,
      MAINS_WIRING,
      MOVES_CHANGE,
      ...(base.amount > MOST_BY_SWITCH_MM ? [LARGE_OFFSET] : []),
    ],
  };
}

/**
 * The leading side has to stop farther toward the - end after homing. Where it homes toward the
 * - end that is nearer to its switch: less pull-off. Where it homes toward the + end, it backs off
 * toward the - end: more pull-off.
 */
function explainSwitch(s: number, gantryAxis: 'x' | 'y', machine: MachineFile | undefined): string {
  const homing = machine?.homing?.[gantryAxis];
  if (homing === undefined) return '';
  const travel = gantryAxis.toUpperCase();
  const beam = gantryAxis === 'y' ? 'X' : 'Y';
  const side = `${s > 0 ? '+' : '−'}${beam} side`;
  const otherSide = `${s > 0 ? '−' : '+'}${beam} side`;
  return homing === '-'
    ? `; as a homing offset: ${travel} homes toward −${travel}, so the ${side} has to stop nearer its own switch: reduce its pull-off (how far it backs off the switch) by as much or set its switch as much farther toward −${travel}, or add as much to the pull-off of the ${otherSide}`
    : `; as a homing offset: ${travel} homes toward +${travel}, so the ${side} has to stop farther from its own switch: add as much to its pull-off (how far it backs off the switch) or set its switch as much back toward −${travel}, or reduce the pull-off of the ${otherSide} by as much`;
}

/** No gantry: the Y guide runs along (s, 1) and has to run along (0, 1). */
function turnRail(squareness: Estimate, leans: string): ProposalRecord {
  const s = squareness.value;
  return {
    what: 'squareness',
    leaveAlone: false,
    amount: Math.abs(s) * 1000,
    U: squareness.U * 1000,
    unit: 'mm/m',
    expected: { value: 0, U: squareness.U * 1000, unit: 'mm/m' },
    side: '+Y end of the Y guide',
    direction: `toward ${s > 0 ? '−X' : '+X'}`,
    why: `${leans}: shim or turn the Y guide about its −Y end; counted per metre of the guide`,
    cautions: [HANDS_IN_MACHINE],
  };
}
