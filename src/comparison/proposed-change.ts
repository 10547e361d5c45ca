/** By how much each quantity would have changed, had the proposals been carried out exactly. */

import type { ComparedName } from '../../shared/schemas/comparison.js';
import type { Measurement, ProposalRecord } from '../../shared/schemas/measurement.js';
import { type MachineQuantities, quantitiesByKey } from '../quantity/index.js';

type Proposed = MachineQuantities & Pick<Measurement, 'proposals'>;

/**
 * @returns rad, ratio, mm or rad/m as the quantity itself; undefined where no change was proposed for it.
 */
export function proposedChange(before: Proposed, what: ComparedName): number | undefined {
  const change = changeOf(before, what);
  return change === 0 ? undefined : change;
}

function changeOf(before: Proposed, what: ComparedName): number | undefined {
  if (what === 'scale.ratio') return ratioChange(before);
  const proposal = before.proposals.find((one) => one.what === what && !one.leaveAlone);
  const quantity = quantitiesByKey(before)[what];
  if (proposal === undefined || quantity.state === 'undetermined') return undefined;
  if (what === 'scale.x' || what === 'scale.y') return stepsChange(quantity.value, proposal);
  // The amount stands in mm over an arm that the record does not tell; its U stands over the same arm.
  const { amount, U } = proposal;
  const isScaled = amount !== undefined && U !== undefined && U > 0 && quantity.U > 0;
  const size = isScaled ? (amount * quantity.U) / U : Math.abs(quantity.value);
  return -Math.sign(quantity.value) * Math.abs(size);
}

/** A command makes `to` steps where it made `from`: all travel grows by their ratio. */
function stepsChange(scale: number, { from, to, amount, unit }: ProposalRecord): number {
  const growth =
    unit === '%' && amount !== undefined
      ? 1 + amount / 100
      : from !== undefined && to !== undefined
        ? to / from
        : 1 / (1 + scale);
  return (1 + scale) * (growth - 1);
}

/** Nobody sets a ratio: it follows from the steps of X and Y. */
function ratioChange(before: Proposed): number | undefined {
  const changes = (['x', 'y'] as const).map((axis) => changeOf(before, `scale.${axis}`));
  const { x, y, ratio } = before.scale;
  if (changes.every((change) => change === undefined)) return undefined;
  if (ratio.state === 'undetermined') return undefined;
  const [growthX, growthY] = [x, y].map((scale, i) =>
    scale.state === 'undetermined' ? 1 : 1 + (changes[i] ?? 0) / (1 + scale.value),
  );
  return (1 + ratio.value) * (growthX! / growthY! - 1);
}
