/** The result in one sentence. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { QUANTITY_NAME } from './quantity-words.js';

export function verdictSentence(measurement: Measurement): string {
  const { machine = 'the machine', verdicts, adjustment } = measurement;
  if (adjustment?.knownGrid === true) {
    return 'The camera was measured by a grid that was taken for true; nothing is told of the machine.';
  }
  if (adjustment === undefined) return 'The grid was found, but nothing could be measured.';
  if (verdicts.length === 0) return 'Measured; no limits were judged.';
  const named = (verdict: string) =>
    verdicts
      .filter((one) => one.verdict === verdict)
      .map(({ what }) => QUANTITY_NAME[what as keyof typeof QUANTITY_NAME] ?? what);
  const [outside, open] = [named('outside'), named('cannot tell')];
  const found =
    outside.length === 0
      ? `On ${machine} nothing was found outside its limit`
      : `On ${machine} ${joined(outside)} ${outside.length === 1 ? 'is' : 'are'} outside the limit`;
  return `${found}${open.length === 0 ? '' : `; ${joined(open)} cannot be told`}.`;
}

function joined(names: readonly string[]): string {
  const last = names[names.length - 1]!;
  return names.length === 1 ? last : `${names.slice(0, -1).join(', ')} and ${last}`;
}
