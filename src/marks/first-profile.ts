/**
 * Which segments have a say in a family's first profile: those whose own mean profile is about the median of
 * all. A least-squares curve has no defence of its own: one segment half under a black cover, divided by
 * the cover's grey, once outweighed a hundred clear ones.
 */

import { median } from '../numerics/index.js';
import type { Strip } from './gather-strip.js';

export interface UnjudgedSegment {
  readonly strip: Strip;
  /** The segment's px times this are the profile's. */
  readonly stretch: number;
  readonly state: { readonly shiftPx: number; readonly level: number };
}

/** Departures from the median profile, against the usual segment's, above which there is no say. */
const FARTHEST = 3;
/** Profiles of noise alone differ by chance: departures below this share of the mark's depth are none. */
const LEAST_SHARE = 0.15;

/**
 * @param halfPx half-width of the profiles; px of the profile.
 * @returns one entry per segment; all of them where too little is in common.
 */
export function chooseForFirstProfile(
  segments: readonly UnjudgedSegment[],
  halfPx: number,
): boolean[] {
  const reach = Math.floor(halfPx);
  const bins = 2 * reach + 1;
  const profiles = segments.map((segment) => profileOf(segment, reach));
  const middle = Float64Array.from({ length: bins }, (_, bin) =>
    medianOrZero(profiles.map((profile) => profile[bin])),
  );
  const depth = Math.max(...middle) - Math.min(...middle);
  const departures = profiles.map((profile) =>
    meanOf(Array.from(profile, (value, bin) => Math.abs(value - middle[bin]))),
  );
  const limit = Math.max(LEAST_SHARE * depth, FARTHEST * medianOrZero(departures));
  return departures.map((departure) => departure <= limit);
}

/** Mean relative deviation per px across, NaN where no pixel lies. */
function profileOf({ strip, stretch, state }: UnjudgedSegment, reach: number): Float64Array {
  const sums = new Float64Array(2 * reach + 1);
  const counts = new Float64Array(2 * reach + 1);
  for (let i = 0; i < strip.value.length; i++) {
    const bin = Math.round(stretch * (strip.across[i] - state.shiftPx)) + reach;
    if (bin < 0 || bin >= sums.length) continue;
    sums[bin] += strip.value[i] / state.level - 1;
    counts[bin]++;
  }
  return sums.map((sum, bin) => sum / counts[bin]);
}

function medianOrZero(values: readonly number[]): number {
  const known = values.filter((value) => !Number.isNaN(value));
  return known.length > 0 ? median(known) : 0;
}

function meanOf(values: readonly number[]): number {
  const known = values.filter((value) => !Number.isNaN(value));
  return known.length > 0 ? known.reduce((sum, value) => sum + value, 0) / known.length : 0;
}
