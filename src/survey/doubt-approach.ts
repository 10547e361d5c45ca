/** Nodes of which nobody said from which side they were approached. */

import type { Quantity } from '../../shared/schemas/measurement.js';
import type { MachineEstimates, NetworkSegment } from '../network/index.js';

/** A node where both halves of a line meet has no one side; more without one mean that nothing is known. */
const MOST_WITHOUT = 0.2;

const REASON =
  'nothing says from which side the nodes were approached: lost motion may be hidden in their places';
const ADD =
  'give the program that marked them (--program), or the columns dx and dy: the sense of the last motion before each mark, 1 or -1';

type Doubted = Pick<
  MachineEstimates,
  'squareness' | 'scale' | 'straightness' | 'racking' | 'periodic'
>;

/**
 * A grid marked in halves from both sides, read as if all of it came from one, leans by the lost motion over
 * the half: tenths of a millimetre per metre, without a sign of it in the fit. So what nodes by themselves tell
 * is shown, and nothing is proposed from it.
 */
export function doubtApproach<T extends Doubted>(
  estimates: T,
  { segments }: { readonly segments: readonly NetworkSegment[] },
): T {
  const isUnknown = (['x', 'y'] as const).some((axis) => {
    const own = segments.filter((segment) => segment.axis === axis);
    return own.filter(({ approach }) => approach === 0).length > MOST_WITHOUT * own.length;
  });
  if (!isUnknown) return estimates;
  const { squareness, scale, straightness, racking, periodic } = estimates;
  return {
    ...estimates,
    squareness: weaken(squareness),
    scale: { x: weaken(scale.x), y: weaken(scale.y), ratio: weaken(scale.ratio) },
    straightness: { x: weaken(straightness.x), y: weaken(straightness.y) },
    racking: weaken(racking),
    periodic: { x: weaken(periodic.x), y: weaken(periodic.y) },
  };
}

function weaken<Q extends Quantity>(quantity: Q): Q {
  return quantity.state === 'undetermined'
    ? quantity
    : { ...quantity, state: 'weak', reason: REASON, add: [ADD] };
}
