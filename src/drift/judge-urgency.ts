/** Which machine needs somebody first. */

import type { DriftExplanation, DriftReason, DriftSeries } from '../../shared/schemas/drift.js';
import type { Limits } from '../../shared/schemas/history.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { limitOf } from './describe-values.js';

interface Urgency {
  readonly urgency: number;
  readonly reason: DriftReason;
}

const DAY_MS = 86_400_000;
/** A limit that is crossed later can wait. */
const SOON_DAYS = 90;
/** Squareness is looked at after moves and each season (common practice). */
const STALE_DAYS = 180;

/**
 * Outside a limit 3 to 4, by how far; soon outside 2 to 3; moving 1.5; scattering 1; a board that swells 0.8; not
 * measured for half a year 0.5; too few values 0.2; calm 0.
 */
export function judgeUrgency(
  series: readonly DriftSeries[],
  verdict: DriftExplanation['verdict'],
  limits: Limits,
  asOf: Date,
): Urgency {
  const machine = series.find(({ shows }) => shows === 'machine');
  const found: Urgency[] = [{ urgency: 0, reason: { kind: 'calm' } }];
  for (const { what, latest, crossing, verdict: own, jump } of machine?.quantities ?? []) {
    const limit = limitOf(what, limits)?.own;
    const size = Math.abs(latest?.value ?? 0) - COVERAGE_FACTOR * (latest?.u ?? 0);
    if (limit !== undefined && size > limit) {
      const urgency = 3 + (size - limit) / size;
      found.push({ urgency, reason: { kind: 'outside', what, at: latest!.at } });
    }
    if (crossing?.state === 'beyond') {
      found.push({ urgency: 3, reason: { kind: 'outside', what, at: latest!.at } });
    }
    if (crossing?.state === 'expected') {
      const days = (Date.parse(crossing.at!) - asOf.getTime()) / DAY_MS;
      if (days < SOON_DAYS) {
        const urgency = 3 - Math.max(0, days) / SOON_DAYS;
        found.push({ urgency, reason: { kind: 'crossing', what, at: crossing.at! } });
      }
    }
    if (own === 'drifts') found.push({ urgency: 1.5, reason: { kind: 'drifts', what } });
    if (own === 'jumped') {
      found.push({ urgency: 1.5, reason: { kind: 'jumped', what, ...(jump && { at: jump.at }) } });
    }
    if (own === 'scatters') found.push({ urgency: 1, reason: { kind: 'scatters', what } });
  }
  if (verdict === 'board' || verdict === 'both') {
    found.push({ urgency: 0.8, reason: { kind: 'board' } });
  }
  const last = series
    .map(({ to }) => to)
    .sort()
    .at(-1);
  if (last !== undefined && asOf.getTime() - Date.parse(last) > STALE_DAYS * DAY_MS) {
    found.push({ urgency: 0.5, reason: { kind: 'stale', at: last } });
  }
  if (machine === undefined || machine.quantities.every(({ verdict: own }) => own === 'too few')) {
    found.push({ urgency: 0.2, reason: { kind: 'too few' } });
  }
  return found.reduce((most, one) => (one.urgency > most.urgency ? one : most));
}
