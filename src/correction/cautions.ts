/** What can hurt people or the machine when a proposal is carried out; common practice, no source. */

import type { ProposalRecord } from '../../shared/schemas/measurement.js';

/** Hands go under the gantry, or the frame is loosened. */
export const HANDS_IN_MACHINE =
  'before hands go under the gantry or a part of the frame is loosened: laser and spindle off, tool out, power isolated and locked out; an emergency stop does not isolate';
/** Mains wiring, where drives, motors or switches are taken off. */
export const MAINS_WIRING = 'mains wiring is work for a licensed electrician';
/** Steps per unit, switch offsets. */
export const MOVES_CHANGE =
  'the change alters travel, soft limits and stored positions (zero points, tool change, parking): note the old value, home again, make the first moves slow and in air with a hand on the stop';
/** More than switches are for. */
export const LARGE_OFFSET =
  'so much is more than a homing offset should take up: look first for a skipped tooth, a racked frame or lost steps; rails bind where a gantry is forced askew, and no pull-off may come to zero or below';
/** Compensation settings make the drive jump at every reversal. */
export const COMPENSATION_JUMPS =
  'a compensation setting makes the drive jump at each reversal: set a little less than measured, try slow and in air';
/** Whatever is done. */
export const MANUAL_FIRST = "the machine's manual and the local rules come before this list";

/** The cautions of all proposals that change something, each once; none where all is left alone. */
export function cautions(proposals: readonly ProposalRecord[]): string[] {
  const changes = proposals.filter((proposal) => !proposal.leaveAlone);
  if (changes.length === 0) return [];
  const listed = changes.flatMap((proposal) => proposal.cautions ?? []);
  return [...new Set([...listed, MANUAL_FIRST])];
}
