/** Fresh marks beside old ones, in sentences: what changed, and what bears it. */

import type { FreshRecord, Measurement, Quantity } from '../../shared/schemas/measurement.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { showValue, type Units } from './show-number.js';

const EXPLANATION: Record<FreshRecord['explainedBy'], string> = {
  nothing:
    'nothing changed by more than one and a half times its U: the old marks still show the machine, and board and machine are where they were as far as can be told',
  board:
    'only scales changed: that is what a board does that swells or shrinks (wood across its grain most), but new steps per unit, a warm screw or a belt tensioned anew do it as well; where none of these was changed, it was the board: go by the fresh marks, and change no steps per unit for the old ones',
  machine:
    'more changed than a board can change (its angle, lost motion, racking): the machine is another one since; measure the fresh marks by themselves before anything is set',
  open: 'too little is known to say what changed: take more photos, or mark a larger fresh grid',
};

/** Sentences; none where no fresh marks were measured. */
export function freshTexts(
  { fresh, placements }: Pick<Measurement, 'fresh' | 'placements'>,
  units: Units,
): string[] {
  if (fresh === undefined) return [];
  const [old, later] = placements;
  const parts = [
    changeOf('squareness', fresh.squareness, units),
    changeOf('scale.x', fresh.scale.x, units),
    changeOf('scale.y', fresh.scale.y, units),
    changeOf('scale.ratio', fresh.scale.ratio, units),
    changeOf('lostMotion.x', fresh.lostMotion.x, units),
    changeOf('lostMotion.y', fresh.lostMotion.y, units),
    changeOf('racking', fresh.racking, units),
  ];
  return [
    `the values above are those of the old marks (${old?.program ?? 'first program'}) as they lie now`,
    `fresh marks (${later?.program ?? 'second program'}) less old ones: ${parts.join('; ')}`,
    EXPLANATION[fresh.explainedBy],
  ];
}

function changeOf(what: keyof typeof MEASURE_OF, change: Quantity, units: Units): string {
  const name = QUANTITY_NAME[what];
  if (change.state === 'undetermined') return `${name} undetermined`;
  return `${name} ${showValue(MEASURE_OF[what], change.value, change.U, units).withU}`;
}
