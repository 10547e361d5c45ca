/** Is there a trend at all? Only the order of the values counts. */

import { normalTail } from '../numerics/index.js';

export interface MannKendall {
  /** Pairs that rise less pairs that fall. */
  readonly S: number;
  readonly varianceOfS: number;
  /** S over the number of pairs. */
  readonly tau: number;
  /** Normal approximation with continuity correction. */
  readonly Z: number;
  /** Two-sided: exact for few values without ties, else by Z. */
  readonly p: number;
}

/** Up to here the exact distribution is counted out; beyond, the normal one differs in the third digit only. */
const MOST_EXACT = 40;

/**
 * @param values in the order of time; n ≥ 2.
 * Source: Mann, Nonparametric tests against trend (1945); Kendall, Rank correlation methods (1975), with the
 * correction for ties.
 */
export function mannKendall(values: readonly number[]): MannKendall {
  const n = values.length;
  let S = 0;
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) S += Math.sign(values[j]! - values[i]!);
  }
  const ties = countTies(values);
  const spread = (m: number) => m * (m - 1) * (2 * m + 5);
  const varianceOfS = (spread(n) - ties.reduce((sum, tie) => sum + spread(tie), 0)) / 18;
  const Z = varianceOfS === 0 ? 0 : (S - Math.sign(S)) / Math.sqrt(varianceOfS);
  const isExact = ties.length === 0 && n <= MOST_EXACT;
  const p = isExact ? exactTwoSided(S, n) : Math.min(1, 2 * normalTail(Math.abs(Z)));
  return { S, varianceOfS, tau: S / ((n * (n - 1)) / 2), Z, p };
}

/** How many values share each value that occurs more than once. */
function countTies(values: readonly number[]): number[] {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts.values()].filter((count) => count > 1);
}

/** P(|S| ≥ |s|) over all orders of n values: S = pairs - 2 inversions, and inversions are counted out. */
function exactTwoSided(S: number, n: number): number {
  if (S === 0) return 1;
  const pairs = (n * (n - 1)) / 2;
  const most = (pairs - Math.abs(S)) / 2;
  // Share of orders of m values with k inversions; value m + 1 adds 0 to m of them.
  let shares = [1];
  for (let m = 2; m <= n; m++) {
    const next = new Array<number>(Math.min(most, (m * (m - 1)) / 2) + 1).fill(0);
    for (let k = 0; k < next.length; k++) {
      for (let added = 0; added < m && added <= k; added++)
        next[k]! += (shares[k - added] ?? 0) / m;
    }
    shares = next;
  }
  return Math.min(1, 2 * shares.slice(0, most + 1).reduce((sum, share) => sum + share, 0));
}
