/** Counts of marks seen among places looked at, and what they say. */

import type { Probe } from './probe-unit.js';

export interface Tally {
  seen: number;
  total: number;
}

/** How often a predicted unit shows a mark, on the grid and off it. */
export interface Rates {
  readonly on: number;
  readonly off: number;
}

export const USUAL_RATES: Rates = { on: 0.75, off: 0.12 };

export function newTally(): Tally {
  return { seen: 0, total: 0 };
}

export function count(into: Tally, probe: Probe, limit: number): void {
  into.total++;
  if (probe.strength >= limit) into.seen++;
}

/** Share seen; 0 where nothing was looked at. */
export function shareSeen(tally: Tally): number {
  return tally.total === 0 ? 0 : tally.seen / tally.total;
}

/** What is left of a tally where texture passes for marks as often as it does beside them. */
export function aboveTexture(marks: Tally, texture: Tally): Tally {
  const chance = shareSeen(texture);
  if (chance >= 1) return { seen: 0, total: marks.total };
  const seen = Math.max(0, (marks.seen - chance * marks.total) / (1 - chance));
  return { seen, total: marks.total };
}

/** Log odds that the places are marked rather than not. */
export function oddsOf(c: Tally, rates: Rates): number {
  return (
    c.seen * Math.log(rates.on / rates.off) +
    (c.total - c.seen) * Math.log((1 - rates.on) / (1 - rates.off))
  );
}
