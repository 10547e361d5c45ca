/** Whether the board may have moved between marking and photographing. */

import type { EvidenceFile } from '../../shared/schemas/evidence.js';

/** A board follows the air of a season; within a month of steady air it hardly does. Common practice. */
const OLD_AFTER_DAYS = 30;
/**
 * MDF grows by about 2.5 mm/m from 35 to 85 % relative humidity (figure from memory): ten
 * points are 0.5 mm/m, more than any sensible limit for scale.
 */
const MUCH_HUMIDITY = 10;
const DAY_MS = 86_400_000;

/**
 * Why the scale of the marks may be the board's and not the machine's; undefined where nothing
 * speaks for that.
 *
 * @param takenAt when the photos say they were taken: EXIF or ISO 8601; the evidence goes first.
 */
export function boardMayHaveMoved(
  evidence: EvidenceFile | undefined,
  takenAt: string | undefined,
): string | undefined {
  const marked = evidence?.marked;
  if (marked === undefined) return undefined;
  const reasons: string[] = [];
  const days = daysBetween(marked.date, evidence?.taken ?? takenAt);
  if (days !== undefined && days > OLD_AFTER_DAYS) {
    reasons.push(`the marks are ${Math.round(days)} days old`);
  }
  if (marked.humidity !== undefined && evidence?.humidity !== undefined) {
    const change = evidence.humidity - marked.humidity;
    if (Math.abs(change) >= MUCH_HUMIDITY) {
      const way = change > 0 ? 'damper' : 'drier';
      reasons.push(
        `the air is ${way} than when they were made, by ${Math.abs(change).toFixed(0)} points of relative humidity`,
      );
    }
  }
  return reasons.length === 0 ? undefined : reasons.join(' and ');
}

function daysBetween(from: string | undefined, to: string | undefined): number | undefined {
  const [first, last] = [toTime(from), toTime(to)];
  return first === undefined || last === undefined ? undefined : Math.abs(last - first) / DAY_MS;
}

/** EXIF writes its dates with colons. */
function toTime(text: string | undefined): number | undefined {
  const date = /^(\d{4})[-:](\d{2})[-:](\d{2})/.exec(text ?? '');
  return date === null
    ? undefined
    : Date.UTC(Number(date[1]), Number(date[2]) - 1, Number(date[3]));
}
