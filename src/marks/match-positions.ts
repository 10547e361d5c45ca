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
export const NARROWEST_GAP = 6;
/** Most of the grid is in the picture: its span exceeds that of the seen lines by no more. */
const LONGEST = 1.25;

/**
 * Tries every scale and offset. A line counts by how far the profile stands above its value between
 * the lines, saturated, so that a bold frame counts no more than any other line; lines seen at the next
 * positions outside count against.
 *
 * @param profile line strength per bin.
 * @param positions ascending.
 * @param freeShare of a gap, from either side, at which no line is expected.
 * @returns distinct placements, best first.
 */
export function matchPositions(
  profile: Float64Array,
  positions: Float64Array,
  freeShare: number,
): RowMatch[] {
  const n = positions.length;
  const span = positions[n - 1] - positions[0];
  const unit = Float64Array.from(positions, (p) => (p - positions[0]) / span);
  let narrowest = 1;
  for (let k = 1; k < n; k++) narrowest = Math.min(narrowest, unit[k] - unit[k - 1]);
  const reach = usedRange(profile);
  const smooth = smoothProfile(profile);
  const full = referenceStrength(widen(smooth, 1), n);
  if (full === 0) return [];
  const widened = new Map<number, Float64Array>();
  const coarse = sparse(unit);
  const found: RowMatch[] = [];
  const longest = LONGEST * (reach[1] - reach[0]);
  for (let size = NARROWEST_GAP / narrowest; size < longest; ) {
    // The tolerance of a place and the steps of the search go with the gap.
    const tolerance = Math.min(4, Math.max(1, Math.round(0.05 * narrowest * size)));
    const crests = widened.get(tolerance) ?? widen(smooth, tolerance);
    widened.set(tolerance, crests);
    const from = reach[0] - 0.35 * size;
    const to = reach[1] - 0.65 * size;
    for (let start = from; start <= to; start += tolerance + 1) {
      if (seenAt(crests, coarse, start, size, full) < 0.4 * coarse.length) continue;
      const score = scoreRow(crests, unit, start, size, full, freeShare);
      if (score > 0.25 * n) {
        found.push({ scale: size / span, offset: start - (positions[0] * size) / span, score });
      }
    }
    size += 2 * tolerance;
  }
  return distinct(found, positions, narrowest * span);
}

function scoreRow(
  crests: Float64Array,
  unit: Float64Array,
  start: number,
  size: number,
  full: number,
  freeShare: number,
): number {
  const n = unit.length;
  const at = (u: number) => {
    const b = Math.round(start + u * size);
    return b < 0 || b >= crests.length ? 0 : Math.min(crests[b], full) / full;
  };
  const between = (a: number, b: number) =>
    (at(a + freeShare * (b - a)) + at(b - freeShare * (b - a))) / 2;
  let score = 0;
  let before = between(2 * unit[0] - unit[1], unit[0]);
  for (let k = 0; k < n; k++) {
    const next = k + 1 < n ? unit[k + 1] : 2 * unit[k] - unit[k - 1];
    const after = between(unit[k], next);
    score += at(unit[k]) - (before + after) / 2;
    before = after;
  }
  const outside = at(2 * unit[0] - unit[1]) + at(2 * unit[n - 1] - unit[n - 2]);
  return score - 0.7 * outside;
}

/** The range that holds nearly all of the profile. */
export function usedRange(profile: Float64Array): [number, number] {
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

export function smoothProfile(profile: Float64Array): Float64Array {
  const n = profile.length;
  return profile.map(
    (value, b) => (profile[Math.max(0, b - 1)] + 2 * value + profile[Math.min(n - 1, b + 1)]) / 4,
  );
}

/** The largest value within a tolerance, so that a near miss still counts. */
export function widen(profile: Float64Array, tolerance: number): Float64Array {
  const n = profile.length;
  return profile.map((_, b) => {
    let best = 0;
    for (let k = Math.max(0, b - tolerance); k <= Math.min(n - 1, b + tolerance); k++) {
      if (profile[k] > best) best = profile[k];
    }
    return best;
  });
}

/** A dozen of the positions: enough to see that a placement is hopeless. */
function sparse(unit: Float64Array): Float64Array {
  const step = Math.max(1, Math.floor(unit.length / 12));
  return unit.filter((_, k) => k % step === 0);
}

function seenAt(
  crests: Float64Array,
  unit: Float64Array,
  start: number,
  size: number,
  full: number,
): number {
  let sum = 0;
  for (let k = 0; k < unit.length; k++) {
    const b = Math.round(start + unit[k] * size);
    if (b >= 0 && b < crests.length) sum += Math.min(crests[b], full);
  }
  return sum / full;
}

/** Strength of a usual line: the middle one of the n strongest crests. */
export function referenceStrength(crests: Float64Array, n: number): number {
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
