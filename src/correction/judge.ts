/** Verdicts against the shop's limits. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { VerdictRecord } from '../../shared/schemas/measurement.js';
import { compareWithLimit, type Judged, type Limited, listLimited } from './limits.js';

/**
 * Judges every limited quantity by ISO 14253-1. What is weak or undetermined is never judged.
 *
 * @param machine its limits; where it gives none, the common ones.
 */
export function judge(measurement: Judged, machine: MachineFile | undefined): VerdictRecord[] {
  return listLimited(measurement, machine).map(judgeOne);
}

function judgeOne(limited: Limited): VerdictRecord {
  const { what, limit, unit, quantity, factor } = limited;
  const base = { what, limit, unit };
  if (quantity.state !== 'measured') {
    const word = quantity.state === 'weak' ? 'only weakly known' : 'undetermined';
    const add = quantity.add ?? [];
    return {
      ...base,
      verdict: 'cannot tell',
      why: [`${word}: ${quantity.reason ?? 'the evidence does not fix it'}`, ...add].join('; '),
    };
  }
  const verdict = compareWithLimit(Math.abs(quantity.value) * factor, quantity.U * factor, limit);
  return { ...base, verdict, why: WHY[verdict](limited) };
}

const WHY = {
  inside: () => 'the value and its uncertainty together stay within the limit',
  outside: () => 'the value exceeds the limit by more than its uncertainty',
  'cannot tell': (limited: Limited) =>
    `the limit lies within the uncertainty of the value; to tell, ${evidenceThatWould(limited)}`,
} as const;

/**
 * The slope alone of what the classes of tapes permit, 0.1, 0.2 and 0.4 mm/m (Directive 2014/32/EU, annex X), as half the width
 * of a rectangle: 2 b / √3.
 */
const TAPES_LEAVE = '0.12 (class I), 0.23 (II) or 0.46 mm/m (III)';
const TAPES_REACH = 0.46e-3;

/** What brings the uncertainty down, by the largest share in it. */
function evidenceThatWould({ what, quantity, limit }: Limited): string {
  const share = quantity.state === 'undetermined' ? undefined : quantity.share;
  const largest =
    share === undefined
      ? undefined
      : (Object.entries(share) as [keyof typeof share, number][]).reduce((most, one) =>
          one[1] > most[1] ? one : most,
        )[0];
  switch (largest) {
    case 'evidence':
      return what.startsWith('scale')
        ? `tape a longer length, or the same one several times with a better tape, and state its temperature${limit < TAPES_REACH ? `; however long, a tape leaves ${TAPES_LEAVE}: for less, a calibrated scale or a wider limit` : ''}`
        : 'repeat the check with the square more finely';
    case 'marks':
      return 'mark the grid again with more lines or cleaner edges';
    case 'camera':
      return 'add photos square-on, two at each quarter turn of the phone';
    case 'drift':
      return 'warm the machine up, look for lost steps, and mark the grid again';
    case 'photos':
      return 'add photos, sharper and closer, the whole grid in view';
    default:
      return what.startsWith('scale')
        ? 'tape a second, longer length and add photos'
        : 'add photos, two at each quarter turn of the phone';
  }
}
