/** Evenly spaced lines in a profile: gap and place of a comb, however many of its teeth are in view. */

import {
  NARROWEST_GAP,
  referenceStrength,
  smoothProfile,
  usedRange,
  widen,
} from './match-positions.js';

/** Lines at scale·k + offset, k = 0 … teeth - 1, are in view. */
export interface CombMatch {
  /** Gap between neighbouring lines; bins. */
  readonly scale: number;
  readonly offset: number;
  readonly teeth: number;
  readonly score: number;
}

/** Kept per profile: the true gap may score a little less than twice or half of it. */
const KEPT = 4;
/** Fewer lines fix no projective spacing with one to spare. */
const FEWEST_TEETH = 4;
/** A tooth without a line costs this much of one with a line: half the gap would fill every other one. */
const EMPTY = 0.35;
/** Tolerance of a place; share of the gap. */
const TOLERANCE = 0.05;

/** @param profile line strength per bin. */
export function matchComb(profile: Float64Array): CombMatch[] {
  const [first, last] = usedRange(profile);
  const smooth = smoothProfile(profile);
  const peaks = widen(smooth, 1);
  const range = last - first;
  const widened = new Map<number, Float64Array>();
  const found: CombMatch[] = [];
  for (let scale = NARROWEST_GAP; scale * (FEWEST_TEETH - 1) <= range; ) {
    const tolerance = Math.min(4, Math.max(1, Math.round(TOLERANCE * scale)));
    const crests = widened.get(tolerance) ?? widen(smooth, tolerance);
    widened.set(tolerance, crests);
    // As many lines as the range holds are meant; frames and the like may be stronger, grain is weaker.
    const full = referenceStrength(peaks, range / scale);
    if (full > 0) {
      let best: CombMatch | undefined;
      for (let start = first; start < first + scale; start += tolerance + 1) {
        const match = scoreComb(crests, full, start, scale, last);
        if (best === undefined || match.score > best.score) best = match;
      }
      if (best !== undefined && best.score > 0) found.push(best);
    }
    // Steps that move the outermost tooth by its tolerance.
    scale += (2 * tolerance * scale) / range;
  }
  return distinct(found);
}

function scoreComb(
  crests: Float64Array,
  full: number,
  start: number,
  scale: number,
  last: number,
): CombMatch {
  let score = 0;
  let teeth = 0;
  const at = (b: number) => Math.min(crests[Math.round(b)] ?? 0, full) / full;
  for (let b = start; b <= last; b += scale) {
    score += at(b) - (at(b - scale / 2) + at(b + scale / 2)) / 2 - EMPTY;
    teeth++;
  }
  return { scale, offset: start, teeth, score };
}

function distinct(found: CombMatch[]): CombMatch[] {
  found.sort((a, b) => b.score - a.score);
  const kept: CombMatch[] = [];
  for (const match of found) {
    if (match.teeth < FEWEST_TEETH) continue;
    if (kept.some(({ scale }) => Math.abs(Math.log(scale / match.scale)) < 0.1)) continue;
    kept.push(match);
    if (kept.length === KEPT) break;
  }
  return kept;
}
