/** When a quantity is better left as it is, and the words for it. */

import type { ProposalRecord, Quantity } from '../../shared/schemas/measurement.js';

export type Verdictable = { readonly limit: number; readonly factor: number };

/**
 * The record that says to leave it alone; undefined where a change is worth while.
 *
 * Left alone is: what is weak or undetermined; what is smaller than its own expanded uncertainty;
 * what lies within the shop's limit.
 */
export function leaveAlone(
  what: string,
  quantity: Quantity,
  { limit, factor }: Verdictable,
): ProposalRecord | undefined {
  const record = (why: string): ProposalRecord => ({ what, leaveAlone: true, why });
  if (quantity.state !== 'measured') return record(explainState(quantity));
  const size = Math.abs(quantity.value) * factor;
  const U = quantity.U * factor;
  if (size + U <= limit) return record("inside the shop's limit, its uncertainty included");
  if (size < U) {
    return record(
      "smaller than its own uncertainty: a change would follow noise; to know whether it meets the shop's limit, measure more finely",
    );
  }
  if (size <= limit) {
    return record("inside the shop's limit, though its uncertainty reaches beyond it");
  }
  return undefined;
}

function explainState(quantity: Quantity): string {
  const reason = quantity.reason ?? 'the evidence does not fix it';
  const add = (quantity.add ?? []).map((one) => `; ${one}`).join('');
  return quantity.state === 'weak'
    ? `only weakly known, so nothing is proposed: ${reason}${add}`
    : `undetermined, so nothing is proposed: ${reason}${add}`;
}
