/** Proposals as sentences: do what, where, which way, how much. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { ProposalRecord } from '../../shared/schemas/measurement.js';
import { fixed, showAmount, showUncertainty, type Units } from './show-number.js';

export interface ProposalText {
  readonly title: string;
  /** The instruction with side, direction, amount; absent where it is left alone. */
  readonly what?: string;
  readonly why: string;
  /** What it looks like, with the check; and what to expect afterwards. */
  readonly more: readonly string[];
}

const TITLES: Record<string, string> = {
  squareness: 'squareness',
  'scale.x': 'steps per unit X',
  'scale.y': 'steps per unit Y',
  'lostMotion.x': 'lost motion X',
  'lostMotion.y': 'lost motion Y',
  'straightness.x': 'straightness of X',
  'straightness.y': 'straightness of Y',
  racking: 'racking',
  'position.x': 'positions of X',
  'position.y': 'positions of Y',
  'periodic.x': 'periodic error of X',
  'periodic.y': 'periodic error of Y',
};

export function describeProposal(proposal: ProposalRecord, units: Units): ProposalText {
  const title = TITLES[proposal.what] ?? proposal.what;
  if (proposal.leaveAlone) return { title, why: proposal.why, more: [] };
  return {
    title,
    what: describeChange(proposal, units),
    why: proposal.why,
    more: describeMore(proposal, units),
  };
}

function describeChange(proposal: ProposalRecord, units: Units): string {
  const { what, side, direction, amount = 0, unit = '', U } = proposal;
  const shown = showAmount(amount, U, unit, units);
  if (unit === 'steps/mm') return describeSteps(proposal, units);
  if (unit === '%') {
    return `${side}: ${amount < 0 ? 'lower' : 'raise'} the steps per unit by ${shown}`;
  }
  switch (what) {
    case 'squareness':
      return `bring the ${side} ${direction} by ${shown}`;
    case 'racking':
      return `${side} ${direction}: ${shown}`;
    case 'lostMotion.x':
    case 'lostMotion.y':
      return direction === 'less compensation'
        ? `${side}: lower the compensation setting by ${shown}`
        : `${side}: take out ${shown} of play`;
    default:
      return `${side}, ${direction}: ${shown}`;
  }
}

function describeMore(
  { what, looksLike, check, expected }: ProposalRecord,
  units: Units,
): string[] {
  return [
    ...(looksLike === undefined ? [] : [`looks like ${looksLike}`]),
    ...(check === undefined ? [] : [`to make sure: ${check}`]),
    ...(expected === undefined
      ? []
      : [
          `measured again as well as now, it should then show ${fixed(expected.value, 0)} within ${uncertaintyOf(expected, units)} (√2 U: both measurements err${expected.unit === 'mm/m' && what.startsWith('scale') ? '; by the same tape less, its own error is in both' : ''})`,
        ]),
  ];
}

function uncertaintyOf({ U, unit }: NonNullable<ProposalRecord['expected']>, units: Units): string {
  return unit === 'mm'
    ? showUncertainty('length', Math.SQRT2 * U, units)
    : showUncertainty('slope', (Math.SQRT2 * U) / 1000, units);
}

function describeSteps({ from = 0, to = 0, U = 0 }: ProposalRecord, units: Units): string {
  const shown = `from ${from} to ${to} steps/mm (± ${uncertain(U)})`;
  if (units === 'mm') return shown;
  const perInch = (steps: number) => String(Number((steps * MM_PER_INCH).toPrecision(8)));
  return `from ${perInch(from)} to ${perInch(to)} steps/in (± ${uncertain(U * MM_PER_INCH)}); where the setting is per mm, ${shown}`;
}

function uncertain(U: number): string {
  return U > 0 ? String(Number(U.toPrecision(2))) : fixed(U, 1);
}
