/** One quantity before and after: did it move, and as was proposed? */

import type { ChangeVerdict, Compared } from '../../shared/schemas/comparison.js';
import { COVERAGE_FACTOR, type Estimate, type Quantity } from '../../shared/schemas/measurement.js';

export type JudgedChange = Pick<Compared, 'change' | 'proposed' | 'verdict' | 'why' | 'hint'>;

/**
 * Several quantities are looked at, of which nothing was expected: one and a half U, so that all
 * together alarm falsely in one comparison of fifty.
 */
const CLEAR_EN = 1.5;

/**
 * Change and verdict. The change is significant where it exceeds its U (En above 1); it is what was proposed where
 * it differs from that by no more than U. U of both is the root of the sum of squares: what was done
 * is known exactly, and took out the value before with its error in it, which stays in the machine.
 *
 * @param proposed change that was proposed, in the quantity's unit; undefined: to be left alone.
 * @param open why nothing can be told, where that is known beforehand.
 * Source of En: ISO/IEC 17043, normalised error.
 */
export function judgeChange(
  before: Quantity,
  after: Quantity,
  proposed: number | undefined,
  open: string | undefined,
): JudgedChange {
  if (before.state === 'undetermined' || after.state === 'undetermined') {
    return {
      ...(proposed === undefined ? {} : { proposed: { change: proposed } }),
      ...(open === undefined
        ? cannotTell(explainUndetermined(before, after), adviceOf(after))
        : cannotTell(open)),
    };
  }
  const change = changeBetween(before, after);
  const told = proposed === undefined ? undefined : againstProposed(change, proposed);
  const base = { change, ...(told === undefined ? {} : { proposed: told }) };
  if (open !== undefined) return { ...base, ...cannotTell(open) };
  if (before.state === 'weak' || after.state === 'weak') {
    return { ...base, ...cannotTell(explainWeak(before, after), adviceOf(after)) };
  }
  if (told === undefined) return { ...base, ...judgeUnasked(change) };
  return { ...base, ...judgeAsked(change, told, before, after) };
}

type Change = NonNullable<Compared['change']>;
type Told = Required<NonNullable<Compared['proposed']>>;
type Judgement = { verdict: ChangeVerdict; why: string; hint?: string };

function changeBetween(before: Estimate, after: Estimate): Change {
  const value = after.value - before.value;
  const u = Math.hypot(before.u, after.u);
  const U = COVERAGE_FACTOR * u;
  return { value, u, k: COVERAGE_FACTOR, U, En: normalised(value, U) };
}

function againstProposed({ value, U }: Change, proposed: number): Told {
  return {
    change: proposed,
    En: normalised(value - proposed, U),
    factor: { value: value / proposed, U: U / Math.abs(proposed) },
  };
}

/** Without any uncertainty every difference is significant. */
function normalised(difference: number, U: number): number {
  if (difference === 0) return 0;
  return U > 0 ? Math.abs(difference) / U : Number.MAX_VALUE;
}

function judgeUnasked({ En }: Change): Judgement {
  if (En <= 1) {
    return {
      verdict: 'no change beyond U',
      why: 'nothing was proposed, and nothing moved as far as can be told',
    };
  }
  if (En <= CLEAR_EN) {
    return cannotTell(
      'it changed by a little more than U, which chance does once in twenty quantities',
      'measure once more if it matters',
    );
  }
  return {
    verdict: 'changed though nothing was proposed',
    why: 'it changed by far more than U, and nothing was proposed for it',
    hint: 'look for what else was done or came loose, and at another correction that acts on it as well',
  };
}

function judgeAsked(change: Change, told: Told, before: Estimate, after: Estimate): Judgement {
  const isChanged = change.En > 1;
  const isAsProposed = told.En <= 1;
  if (isChanged && told.factor.value < 0) return explainWrongWay(told, before, after);
  if (isChanged && isAsProposed) {
    return {
      verdict: 'did what was proposed',
      why: 'it moved the way and by the amount that was proposed, within U',
    };
  }
  if (isChanged) return explainAmount(told);
  if (!isAsProposed && isMirroredWithinU(told)) {
    return cannotTell(
      'it did not do what was proposed: either nothing moved, or it moved the wrong way (sign or side swapped); the two look alike, as the correction is hardly larger than U of the change',
      'check on the machine what was done, and measure more finely before the next correction',
    );
  }
  if (!isAsProposed) {
    return {
      verdict: 'no change beyond U',
      why: 'what was proposed would have shown, and nothing moved as far as can be told',
      hint: 'if it was carried out: was the setting stored, the bolt tightened, the machine homed again?',
    };
  }
  return cannotTell(
    'what was proposed is hardly larger than U of the change: having been done and not having been done look alike',
    'measure more finely before the next correction',
  );
}

/** The change is that of the proposal carried out with its sign or side swapped. */
function isMirroredWithinU({ factor }: Told): boolean {
  return Math.abs(factor.value + 1) <= factor.U;
}

function explainWrongWay(told: Told, before: Estimate, after: Estimate): Judgement {
  const { factor } = told;
  // A ratio may start nearer to zero than one of its scales, and shrink on the wrong way.
  const grew = Math.abs(after.value) / Math.abs(before.value);
  const error =
    grew > 1 && Number.isFinite(grew)
      ? `, and the error is ${grew.toPrecision(2)} times what it was`
      : '';
  return {
    verdict: 'moved the wrong way',
    why: isMirroredWithinU(told)
      ? `it moved by the proposed amount, but the other way${error}: sign or side swapped`
      : `it moved against what was proposed, by ${tellFactor(factor)} of the amount${error}: sign or side swapped, and the amount is another one too`,
    hint: 'take the change back, or go by the proposals of the later measurement, which start from where the machine stands now; mind which side, seen from above, and which end it homes to',
  };
}

function explainAmount({ factor }: Told): Judgement {
  const isTooFar = factor.value > 1;
  const cause = CAUSES.find(({ times }) => Math.abs(factor.value - times) <= factor.U);
  // A wide U takes everything for a cause.
  const isClear = cause !== undefined && factor.U < CLEAR_FACTOR * cause.times;
  return {
    verdict: isTooFar ? 'moved too far' : 'moved too little',
    why: `it moved the proposed way, by ${tellFactor(factor)} of what was proposed${isClear ? `: ${cause.words}` : ''}`,
    hint: 'go by the proposals of the later measurement, which say what is left',
  };
}

/** U of a factor, as a share of it, up to which a plain cause is named. */
const CLEAR_FACTOR = 0.25;

/** Plain slips of whoever carries out a correction; common practice, no source. */
const CAUSES = [
  { times: 2, words: 'that is twice, as if it had been done twice or on both sides' },
  { times: 0.5, words: 'that is half of it, as if it had been shared out and one half left' },
  { times: 25.4, words: 'that is 25.4 times, as if millimetres had been set as inches' },
  { times: 1 / 25.4, words: 'that is one 25.4th, as if inches had been set as millimetres' },
] as const;

function tellFactor({ value, U }: Told['factor']): string {
  const decimals = U >= 1 ? 1 : U >= 0.1 ? 2 : 3;
  return `${Math.abs(value).toFixed(decimals)} ± ${U.toFixed(decimals)}`;
}

function cannotTell(why: string, hint?: string): Judgement {
  return { verdict: 'cannot tell', why, ...(hint === undefined ? {} : { hint }) };
}

function explainUndetermined(before: Quantity, after: Quantity): string {
  const open = (quantity: Quantity) => quantity.state === 'undetermined';
  if (open(before) && open(after)) return `undetermined both times: ${reasonOf(after)}`;
  return open(before)
    ? `undetermined before: ${reasonOf(before)}`
    : `undetermined after: ${reasonOf(after)}`;
}

function explainWeak(before: Quantity, after: Quantity): string {
  const weak = before.state === 'weak' ? before : after;
  const when =
    before.state === after.state ? 'both times' : before.state === 'weak' ? 'before' : 'after';
  return `only weakly known ${when}: ${reasonOf(weak)}`;
}

function reasonOf(quantity: Quantity): string {
  return quantity.reason ?? 'the evidence does not fix it';
}

/** Only the later measurement can still be made better. */
function adviceOf(after: Quantity): string | undefined {
  return after.state === 'measured' ? undefined : after.add?.join('; ') || undefined;
}
