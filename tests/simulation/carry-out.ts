/** A person who carries out proposals: what is done to the scene generator's own machine. */

import type { MachineErrors } from '../../samples/index.js';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type { ProposalRecord } from '../../shared/schemas/measurement.js';

/**
 * Does what the record says to do, in its own words of side, direction and amount, to a machine whose
 * geometry is written down here and in `machine-errors.ts` only.
 *
 * @param isSwapped the other side is moved, steps are multiplied instead of divided, play is added.
 */
export function carryOut(
  errors: MachineErrors,
  proposal: ProposalRecord,
  machine: MachineFile,
  isSwapped: boolean,
): MachineErrors {
  if (proposal.leaveAlone) return errors;
  switch (proposal.what) {
    case 'squareness':
      return machine.gantryAxis === 'none'
        ? turnGuide(errors, proposal, isSwapped)
        : moveSide(errors, proposal, machine, isSwapped);
    case 'scale.x':
      return { ...errors, scaleX: setSteps(errors.scaleX, proposal, isSwapped) };
    case 'scale.y':
      return { ...errors, scaleY: setSteps(errors.scaleY, proposal, isSwapped) };
    case 'lostMotion.x':
      return { ...errors, lostMotionXMm: takeOutPlay(errors.lostMotionXMm, proposal, isSwapped) };
    case 'lostMotion.y':
      return { ...errors, lostMotionYMm: takeOutPlay(errors.lostMotionYMm, proposal, isSwapped) };
    default:
      // Guides and racks stay as they are: what is proved here is squareness, steps and play.
      return errors;
  }
}

/** `+Y end of the Y guide toward -X`, per metre: the guide is turned about its -Y end. */
function turnGuide(errors: MachineErrors, proposal: ProposalRecord, isSwapped: boolean) {
  const { side, direction, amount, unit } = proposal;
  if (side !== '+Y end of the Y guide' || unit !== 'mm/m') throw unreadable(proposal);
  const towardPlusX = { 'toward +X': 1, 'toward −X': -1 }[direction ?? ''];
  if (towardPlusX === undefined || amount === undefined) throw unreadable(proposal);
  const lean = (towardPlusX * amount) / 1000;
  return { ...errors, squarenessRad: errors.squarenessRad + (isSwapped ? -lean : lean) };
}

/**
 * One side of the beam is moved along the travel: the beam turns about the other side, and with it all that
 * rides on it. Yaw is anticlockwise seen from above, X to the right, Y up.
 */
function moveSide(
  errors: MachineErrors,
  proposal: ProposalRecord,
  machine: MachineFile,
  isSwapped: boolean,
): MachineErrors {
  const { amount, unit } = proposal;
  const axis = errors.gantryAxis;
  const [beam, travel] = axis === 'y' ? ['X', 'Y'] : ['Y', 'X'];
  const sides: Record<string, 1 | -1> = { [`+${beam} side`]: 1, [`−${beam} side`]: -1 };
  const ways: Record<string, 1 | -1> = { [`toward +${travel}`]: 1, [`toward −${travel}`]: -1 };
  const side = sides[proposal.side ?? ''];
  const way = switchWay(proposal, machine) ?? ways[proposal.direction ?? ''];
  const spacing = unit === 'mm' ? machine.axes?.[axis]?.driveSpacing : 1000;
  if (side === undefined || way === undefined) throw unreadable(proposal);
  if (amount === undefined || spacing === undefined) throw unreadable(proposal);
  const movedSide = isSwapped ? -side : side;
  const shift = (movedSide * way * amount) / spacing;
  // The +X side toward +Y turns a beam along X anticlockwise, the +Y side toward +X one along Y clockwise.
  const turn = axis === 'y' ? shift : -shift;
  const [constant = 0, ...rest] = errors.yaw.legendre;
  return { ...errors, yaw: { ...errors.yaw, legendre: [constant + turn, ...rest] } };
}

/**
 * Whoever sets a homing offset reads what to do with the pull-off. A side stops at its switch, less
 * the pull-off: back from the end to which it homes. More pull-off takes it away from that end.
 */
function switchWay({ why }: ProposalRecord, machine: MachineFile): 1 | -1 | undefined {
  const homing = machine.gantryAxis === 'none' ? undefined : machine.homing?.[machine.gantryAxis!];
  const text = /as a homing offset: (.*)$/.exec(why)?.[1];
  if (homing === undefined || text === undefined) return undefined;
  const isLess = /: reduce its pull-off \(.*?\) by as much/.test(text);
  const isMore = /: add as much to its pull-off \(/.test(text);
  if (isLess === isMore) throw new Error(`no instruction for the pull-off: ${text}`);
  const isAwayFromMinus = homing === '-' ? isMore : isLess;
  return isAwayFromMinus ? 1 : -1;
}

/** A command makes so many more or fewer steps, and each step goes as far as before. */
function setSteps(scale: number, proposal: ProposalRecord, isSwapped: boolean): number {
  const { from, to, amount, unit } = proposal;
  if (unit === '%' && amount !== undefined) {
    return (1 + scale) * (1 + ((isSwapped ? -1 : 1) * amount) / 100) - 1;
  }
  if (from === undefined || to === undefined) throw unreadable(proposal);
  return (1 + scale) * (isSwapped ? from / to : to / from) - 1;
}

function takeOutPlay(lostMotionMm: number, proposal: ProposalRecord, isSwapped: boolean): number {
  const { direction, amount } = proposal;
  const sign = { 'less play': -1, 'less compensation': 1 }[direction ?? ''];
  if (sign === undefined || amount === undefined) throw unreadable(proposal);
  return lostMotionMm + (isSwapped ? -sign : sign) * amount;
}

function unreadable(proposal: ProposalRecord): Error {
  return new Error(`a person could not carry this out: ${JSON.stringify(proposal)}`);
}
