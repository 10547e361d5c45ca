/** Where a row of commanded line positions falls in a profile of seen lines, along one direction. */

export interface RowMatch {
  /** Profile coordinate = scale·position + offset. */
  readonly scale: number;
  readonly offset: number;
  readonly score: number;
}

/** Kept placements per row: an index shift or a double spacing must be among them. */
const KEPT = 6;
/** Narrowest gap between lines that can be told apart; bins. */
const NARROWEST_GAP = 6;

/**
 * Tries every scale and offset. A line counts by how far the profile stands above its value between
 * the lines, saturated, so that a bold frame counts no more than any other line; lines seen at the next
 * positions outside count against.
 *
 * @param profile line strength per bin.
 * @param positions ascending.
 * @returns distinct placements, best first.
 */
export function matchPositions(profile: Float64Array, positions: Float64Array): RowMatch[] {
  const n = positions.length;
  const span = positions[n - 1] - positions[0];
  const unit = Float64Array.from(positions, (p) => (p - positions[0]) / span);
  let narrowest = 1;
  for (let k = 1; k < n; k++) narrowest = Math.min(narrowest, unit[k] - unit[k - 1]);
  const reach = usedRange(profile);
  const crests = crestProfile(profile);
  const full = referenceStrength(crests, n);
  if (full === 0) return [];
  const longest = 1.6 * (reach[1] - reach[0]);
  const found: RowMatch[] = [];
  for (let size = NARROWEST_GAP / narrowest; size < longest; size *= 1 + 0.2 * narrowest) {
    const step = Math.max(1, 0.1 * narrowest * size);
    const from = reach[0] - 0.35 * size;
    const to = reach[1] - 0.65 * size;
    for (let start = from; start <= to; start += step) {
      const score = scoreRow(crests, unit, start, size, full);
      if (score > 0.25 * n) {
        found.push({ scale: size / span, offset: start - (positions[0] * size) / span, score });
      }
    }
  }
  return distinct(found, positions, narrowest * span);
}

function scoreRow(
  crests: Float64Array,
  unit: Float64Array,
  start: number,
  size: number,
  full: number,
): number {
  const n = unit.length;
  const at = (u: number) => {
    const b = Math.round(start + u * size);
    return b < 0 || b >= crests.length ? 0 : Math.min(crests[b], full) / full;
  };
  let score = 0;
  let before = at(1.5 * unit[0] - 0.5 * unit[1]);
  for (let k = 0; k < n; k++) {
    const next = k + 1 < n ? (unit[k] + unit[k + 1]) / 2 : 1.5 * unit[k] - 0.5 * unit[k - 1];
    const after = at(next);
    score += at(unit[k]) - (before + after) / 2;
    before = after;
  }
  const outside = at(2 * unit[0] - unit[1]) + at(2 * unit[n - 1] - unit[n - 2]);
  return score - 0.7 * outside;
}

/** The range that holds nearly all of the profile. */
function usedRange(profile: Float64Array): [number, number] {
  let total = 0;
  for (const value of profile) total += value;
  let sum = 0;
  let first = 0;
  let last = profile.length - 1;
  for (let b = 0; b < profile.length; b++) {
    const before = sum;
    sum += profile[b];
    if (before <= 0.005 * total && sum > 0.005 * total) first = b;
    if (before <= 0.995 * total && sum > 0.995 * total) last = b;
  }
  return [first, last];
}

/** Strength above the neighbourhood's mean, spread by one bin so that a near miss still counts. */
function crestProfile(profile: Float64Array): Float64Array {
  const n = profile.length;
  const smooth = profile.map(
    (value, b) => (profile[Math.max(0, b - 1)] + 2 * value + profile[Math.min(n - 1, b + 1)]) / 4,
  );
  return smooth.map((_, b) => {
    let best = 0;
    for (let k = Math.max(0, b - 1); k <= Math.min(n - 1, b + 1); k++) {
      best = Math.max(best, smooth[k]);
    }
    return best;
  });
}

/** Strength of a usual line: the middle one of the n strongest crests. */
function referenceStrength(crests: Float64Array, n: number): number {
  const peaks: number[] = [];
  for (let b = 2; b < crests.length - 2; b++) {
    const value = crests[b];
    if (value > 0 && value > crests[b - 2] && value > crests[b + 2] && value >= crests[b - 1]) {
      peaks.push(value);
      b += 2;
    }
  }
  peaks.sort((a, b) => b - a);
  return peaks[Math.min(peaks.length - 1, Math.floor(0.6 * n))] ?? 0;
}

function distinct(found: RowMatch[], positions: Float64Array, gap: number): RowMatch[] {
  found.sort((a, b) => b.score - a.score);
  const kept: RowMatch[] = [];
  const ends = [positions[0], positions[positions.length - 1]];
  for (const match of found) {
    const near = kept.some((other) =>
      ends.every(
        (p) =>
          Math.abs(other.scale * p + other.offset - match.scale * p - match.offset) <
          0.35 * gap * match.scale,
      ),
    );
    if (near) continue;
    kept.push(match);
    if (kept.length === KEPT) break;
  }
  return kept;
}
