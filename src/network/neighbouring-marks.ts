/**
 * How alike neighbouring stretches of one line lie: a tool that wanders slowly, or grain that pulls a cut aside, shifts
 * both. Taken one by one they would promise more than they hold.
 */

import type { Linearised } from './linearise.js';
import type { Network } from './network.js';
import { isMarksKnown } from './network.js';
import type { Solved } from './network-equations.js';
import { isMeasuredOnBoard } from './network-input.js';
import { type Stochastic, weightOf } from './stochastic.js';

/** Neighbours so many segments away are compared; what reaches farther the lines' own terms take. */
const REACH = 2;
/** Fewer pairs say nothing. */
const FEWEST_PAIRS = 50;
/** No likeness is believed to make the marks worse than this, in standard deviations. */
const MOST = 2;

/**
 * For each placement the factor by which the standard deviation of its marks' offsets must be taken larger, so that
 * sums over a line come out right: φ² = 1 + 2 Σ c(k) / σ², with c(k) the covariance of segments k apart.
 *
 * Products of residuals are smaller than those of the marks themselves, because the fit follows the marks; without
 * likeness their mean would be -b C b'ᵀ, with b the segments' rows and C the covariance of the parameters. That is taken off.
 */
export function likenessOfNeighbours(
  network: Network,
  linearised: Linearised,
  stochastic: Stochastic,
  { covariance }: Solved,
): Float64Array {
  const { input, table } = network;
  const factors = new Float64Array(input.placements.length).fill(1);
  if (isMarksKnown(input) || input.beliefs?.commonVariance === true) return factors;
  const n = table.size;
  const sums = Array.from(factors, () =>
    Array.from({ length: REACH }, () => ({ product: 0, pairs: 0 })),
  );
  for (const line of segmentsOfLines(network)) {
    // Nearest first, each with its row times the covariance.
    const before: (Mark & { readonly spread: Float64Array })[] = [];
    for (const segment of line) {
      const mark = markOf(network, linearised, stochastic, segment);
      if (mark === undefined) continue;
      const { placement } = input.segments[segment];
      before.forEach((other, back) => {
        let common = 0;
        for (const [p, a] of mark.row) common += a * other.spread[p];
        const sum = sums[placement][back];
        sum.product += mark.offsetMm * other.offsetMm + common;
        sum.pairs++;
      });
      before.unshift({ ...mark, spread: spreadOf(mark.row, covariance, n) });
      before.length = Math.min(before.length, REACH);
    }
  }
  sums.forEach((ofPlacement, placement) => {
    let common = 0;
    for (const { product, pairs } of ofPlacement) {
      if (pairs >= FEWEST_PAIRS) common += product / pairs;
    }
    const square = 1 + (2 * common) / stochastic.sigmaMarkMm[placement] ** 2;
    factors[placement] = Math.min(MOST, Math.sqrt(Math.max(1, square)));
  });
  return factors;
}

/** Segments of each line in their order along it; rungs and single marks are no line. */
function segmentsOfLines({ input }: Network): number[][] {
  const lines = new Map<string, number[]>();
  const { linesAtX, linesAtY } = input.layout;
  for (const [i, { placement, axis, line, pair, isRepeated }] of input.segments.entries()) {
    const count = axis === 'x' ? linesAtX.length : linesAtY.length;
    if (line === undefined || line >= count || pair !== undefined || isRepeated) continue;
    const key = `${placement} ${axis} ${line}`;
    const own = lines.get(key) ?? [];
    own.push(i);
    lines.set(key, own);
  }
  const along = (i: number) => {
    const { axis, xMm, yMm } = input.segments[i];
    return axis === 'x' ? yMm : xMm;
  };
  return [...lines.values()].map((own) => own.sort((a, b) => along(a) - along(b)));
}

interface Mark {
  /** As seen in all photos, mm. */
  readonly offsetMm: number;
  /** Derivatives of what is computed, mm; sparse. */
  readonly row: ReadonlyMap<number, number>;
}

function markOf(
  { input, observationsOf }: Network,
  { rows, residual, byOffset }: Linearised,
  stochastic: Stochastic,
  segment: number,
): Mark | undefined {
  let weight = 0;
  let load = 0;
  const row = new Map<number, number>();
  for (const i of observationsOf[segment]) {
    const w = weightOf(input, stochastic, i);
    if (w === 0 || isMeasuredOnBoard(input, input.observations[i])) continue;
    const wh = w * byOffset[i];
    weight += wh * byOffset[i];
    load += wh * residual[i];
    for (let e = rows.start[i]; e < rows.start[i + 1]; e++) {
      const p = rows.index[e];
      row.set(p, (row.get(p) ?? 0) + wh * rows.value[e]);
    }
  }
  if (weight === 0) return undefined;
  for (const [p, value] of row) row.set(p, value / weight);
  return { offsetMm: load / weight, row };
}

function spreadOf(
  row: ReadonlyMap<number, number>,
  covariance: Float64Array,
  n: number,
): Float64Array {
  const spread = new Float64Array(n);
  for (const [p, a] of row) {
    const at = p * n;
    for (let q = 0; q < n; q++) spread[q] += a * covariance[at + q];
  }
  return spread;
}
