/** Which of a program's unevenly spaced lines are seen: the sequence of their gaps, whatever part is in view. */

import {
  type RowMatch,
  referenceStrength,
  smoothProfile,
  usedRange,
  widen,
} from './match-positions.js';

/** Profile coordinate = scale·position + offset; a negative scale reads the row backwards. */
export interface GapMatch extends RowMatch {
  /** Lines of the program that are seen there. */
  readonly lines: number;
}

/** Fewer lines in view leave nothing over that could speak against a wrong sequence. */
const FEWEST_LINES = 5;
/** A line is seen this close to its place; share of the gap beside it. Rivals that nearly fit are wanted too. */
const TOLERANCE = 0.12;
/** Crests of less than this share of a usual line's strength are grain. */
const LEAST_CREST = 0.25;
/** A line of the program that is not seen where it should be, and a crest where none should be. */
const UNSEEN = 1;
const EXTRA = 0.7;
/** Crests taken into account; a photo shows no more lines that could be told apart. */
const MOST_CRESTS = 60;
/** First and last crest of a trial are among so many at either end. */
const ENDS = 8;
const KEPT = 8;

/**
 * Tries every two of the program's lines as the lines seen at two crests far apart.
 *
 * @param profile line strength per bin.
 * @param positions ascending.
 * @returns distinct matches, best first.
 */
export function matchGaps(profile: Float64Array, positions: Float64Array): GapMatch[] {
  const crests = listCrests(profile);
  const n = crests.length;
  if (n < FEWEST_LINES) return [];
  const found: GapMatch[] = [];
  const ends = Math.min(ENDS, Math.floor(n / 2));
  const span = crests[n - 1] - crests[0];
  for (let i = 0; i < ends; i++) {
    for (let j = n - ends; j < n; j++) {
      if (crests[j] - crests[i] < span / 2) continue;
      for (let k = 0; k < positions.length; k++) {
        for (let l = 0; l < positions.length; l++) {
          if (Math.abs(l - k) + 1 < FEWEST_LINES || Math.abs(l - k) > j - i + 2) continue;
          const scale = (crests[j] - crests[i]) / (positions[l] - positions[k]);
          const match = compare(crests, positions, scale, crests[i] - scale * positions[k]);
          if (match !== undefined) found.push(match);
        }
      }
    }
  }
  found.sort((a, b) => b.score - a.score);
  const kept: GapMatch[] = [];
  const middle = (crests[0] + crests[n - 1]) / 2;
  for (const match of found) {
    const at = (one: GapMatch) => (middle - one.offset) / one.scale;
    const isKnown = kept.some(
      (one) =>
        Math.abs(Math.log(Math.abs(one.scale / match.scale))) < 0.02 &&
        one.scale * match.scale > 0 &&
        Math.abs(at(one) - at(match)) * Math.abs(match.scale) < span / n / 2,
    );
    if (!isKnown) kept.push(match);
    if (kept.length === KEPT) break;
  }
  return kept;
}

/** Places of the lines seen, ascending; bins. */
function listCrests(profile: Float64Array): number[] {
  const [first, last] = usedRange(profile);
  const smooth = smoothProfile(smoothProfile(profile));
  const peaks = widen(smooth, 1);
  const usual = referenceStrength(peaks, MOST_CRESTS / 4);
  const crests: { at: number; value: number }[] = [];
  for (let b = Math.max(2, first); b <= Math.min(last, profile.length - 3); b++) {
    const value = smooth[b];
    if (value < LEAST_CREST * usual || value <= 0) continue;
    const around = [-2, -1, 1, 2].map((d) => smooth[b + d]);
    if (value < Math.max(...around) || value === smooth[b - 1]) continue;
    const [before, after] = [smooth[b - 1], smooth[b + 1]];
    const bend = before - 2 * value + after;
    crests.push({ at: b + (bend === 0 ? 0 : (before - after) / (2 * bend)), value });
  }
  crests.sort((a, b) => b.value - a.value);
  return crests
    .slice(0, MOST_CRESTS)
    .map(({ at }) => at)
    .sort((a, b) => a - b);
}

function compare(
  crests: readonly number[],
  positions: Float64Array,
  scale: number,
  offset: number,
): GapMatch | undefined {
  const last = positions.length - 1;
  const first = crests[0];
  const end = crests[crests.length - 1];
  let [lines, unseen, misfit] = [0, 0, 0];
  for (let k = 0; k <= last; k++) {
    const at = scale * positions[k] + offset;
    const gap =
      Math.abs(scale) *
      Math.min(
        k > 0 ? positions[k] - positions[k - 1] : Number.POSITIVE_INFINITY,
        k < last ? positions[k + 1] - positions[k] : Number.POSITIVE_INFINITY,
      );
    if (at < first - TOLERANCE * gap || at > end + TOLERANCE * gap) continue;
    const off = Math.abs(nearest(crests, at) - at) / gap;
    if (off > TOLERANCE) unseen++;
    else {
      lines++;
      misfit += (off / TOLERANCE) ** 2;
    }
  }
  if (lines < FEWEST_LINES) return undefined;
  const extra = Math.max(0, crests.length - lines);
  const score = lines - misfit - UNSEEN * unseen - EXTRA * extra;
  return { scale, offset, lines, score };
}

function nearest(sorted: readonly number[], at: number): number {
  let [low, high] = [0, sorted.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (sorted[middle] > at) high = middle;
    else low = middle;
  }
  return at - sorted[low] < sorted[high] - at ? sorted[low] : sorted[high];
}
