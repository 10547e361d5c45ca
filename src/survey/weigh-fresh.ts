/** Fresh marks beside old ones: did the machine change since, or the board? */

import {
  COVERAGE_FACTOR,
  type FreshRecord,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import { type Adjustment, compareFresh } from '../network/index.js';
import { type Outcome, success } from '../quantity/index.js';

/**
 * @param adjustment of two placements that lie on each other.
 *
 * Fails: NO_CONVERGENCE.
 */
export function weighFresh({ network }: Adjustment): Outcome<FreshRecord> {
  const compared = compareFresh(network.input);
  if (!compared.ok) return compared;
  const { placement: _, ...changes } = compared.value[0]!;
  return success({ ...changes, explainedBy: explain(changes) });
}

/**
 * Wood swells across its grain far more than along it: both scales change, each by its own amount, but a right angle of lines
 * along and across the grain stays one, and no board changes lost motion (common practice, no source).
 */
function explain(changes: Omit<FreshRecord, 'explainedBy'>): FreshRecord['explainedBy'] {
  const { squareness, scale, lostMotion, racking } = changes;
  const ofMachine = [squareness, lostMotion.x, lostMotion.y, racking];
  if (ofMachine.some(isChanged)) return 'machine';
  const ofBoard = [scale.x, scale.y, scale.ratio];
  if (ofBoard.some(isChanged)) return 'board';
  return [squareness, scale.x, scale.y].every(({ state }) => state === 'measured')
    ? 'nothing'
    : 'open';
}

/** Several are asked: three standard uncertainties, so that all together alarm falsely once in fifty. */
const CLEAR = 1.5 * COVERAGE_FACTOR;

function isChanged(quantity: Quantity): boolean {
  return quantity.state === 'measured' && Math.abs(quantity.value) > CLEAR * quantity.u;
}
