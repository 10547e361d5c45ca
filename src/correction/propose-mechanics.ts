/** What only a spanner can mend: guides that are not straight, a gantry whose sides travel unequally. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type {
  CurvePoint,
  Estimate,
  Measurement,
  ProposalRecord,
} from '../../shared/schemas/measurement.js';
import { HANDS_IN_MACHINE, MAINS_WIRING, MOVES_CHANGE } from './cautions.js';

/**
 * @param straightness mm, peak to valley, of the motion along `axis`.
 * @param curve deviation along that travel, mm, at commanded places, mm.
 */
export function proposeStraightening(
  axis: 'x' | 'y',
  straightness: Estimate,
  curve: readonly CurvePoint[] | undefined,
): ProposalRecord {
  const name = axis.toUpperCase();
  const across = axis === 'x' ? 'Y' : 'X';
  return {
    what: `straightness.${axis}`,
    leaveAlone: false,
    amount: straightness.value,
    unit: 'mm',
    U: straightness.U,
    side: `${name} guide`,
    direction: `across it, along ${across}`,
    why: `${name} motion is not straight${explainPlaces(name, across, curve)}: check the guide with a straightedge and shim or set it before anything else`,
    cautions: [HANDS_IN_MACHINE],
  };
}

function explainPlaces(
  name: string,
  across: string,
  curve: readonly CurvePoint[] | undefined,
): string {
  if (curve === undefined || curve.length < 2) return '';
  const peak = curve.reduce((most, one) => (one.value > most.value ? one : most));
  const valley = curve.reduce((least, one) => (one.value < least.value ? one : least));
  return ` (farthest toward +${across} at ${name}${peak.at}, toward −${across} at ${name}${valley.at})`;
}

/**
 * The gantry yaws by `racking` per metre of its travel: seen from above anticlockwise where
 * positive, so that the +X side of a gantry along Y gains on the other by that times their distance,
 * and the -Y side of one along X.
 *
 * @param racking rad per m of travel.
 * @param travelMm length over which the grid shows it, mm.
 * @param limit of squareness, mm/m.
 */
export function proposeRacking(
  racking: Measurement['racking'],
  gantryAxis: 'x' | 'y',
  travelMm: number,
  limit: number,
  machine: MachineFile | undefined,
): ProposalRecord | undefined {
  if (racking.state !== 'measured') return undefined;
  const what = 'racking';
  const change = Math.abs(racking.value) * travelMm;
  if (Math.abs(racking.value) < racking.U) return undefined;
  if (change <= limit) {
    return {
      what,
      leaveAlone: true,
      why: 'the two sides of the gantry travel a little differently, but squareness stays within its limit from end to end of the travel',
    };
  }
  const spacing = machine?.axes?.[gantryAxis]?.driveSpacing;
  const beam = gantryAxis === 'y' ? 'X' : 'Y';
  const travel = gantryAxis.toUpperCase();
  const gainsAtPlusEnd = gantryAxis === 'y' ? racking.value > 0 : racking.value < 0;
  const side = `${gainsAtPlusEnd ? '+' : '−'}${beam} side`;
  // Difference of the two sides per metre of travel, over their distance or per metre of beam.
  const armM = (spacing ?? 1000) / 1000;
  return {
    what,
    leaveAlone: false,
    amount: Math.abs(racking.value) * armM * 1000,
    U: racking.U * armM * 1000,
    unit: 'mm/m',
    side,
    direction: `travels farther toward +${travel}`,
    why: `the ${side} of the gantry travels farther than the other one by this much per metre of ${travel}${spacing === undefined ? ' and per metre between the sides' : ''}: compare pinions, racks or belts and their tension; where the controller holds steps per unit for each side, set them apart by it`,
    cautions: [HANDS_IN_MACHINE, MAINS_WIRING, MOVES_CHANGE],
  };
}
