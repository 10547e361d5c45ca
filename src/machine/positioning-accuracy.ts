/**
 * Accuracy and repeatability of positioning along an axis, as machine tools are accepted by.
 *
 * Source: ISO 230-2:2014, terms as in its clause 3 (numbers below those of the 2006 edition). Its own text was not at hand; the
 * formulas follow published implementations that name the clauses.
 */

/** Deviations, actual minus target position, of one target: as many runs each way. */
export interface TargetRuns {
  readonly targetMm: number;
  /** Approached rising and falling; mm. */
  readonly forward: readonly number[];
  readonly reverse: readonly number[];
}

export interface PositioningAccuracy {
  /** Reversal value of the axis: the largest |B_i| (2.13). */
  readonly reversal: number;
  /** Mean reversal value, with its sign: mean of forward less reverse (2.14). */
  readonly meanReversal: number;
  /** Systematic positional deviation, one way and both ways (2.20, 2.21). */
  readonly systematicForward: number;
  readonly systematicReverse: number;
  readonly systematic: number;
  /** Range of the mean bidirectional deviations (2.22). */
  readonly meanRange: number;
  /** What needs a scatter: absent where a target was reached only once from a side. */
  readonly repeated?: {
    /** Repeatability one way and both ways (2.18, 2.19). */
    readonly repeatabilityForward: number;
    readonly repeatabilityReverse: number;
    readonly repeatability: number;
    /** Accuracy one way and both ways (2.23, 2.24). */
    readonly accuracyForward: number;
    readonly accuracyReverse: number;
    readonly accuracy: number;
  };
}

/**
 * Evaluates the runs of an axis.
 *
 * @param targets two or more, each reached at least once from either side.
 * @throws RangeError for fewer targets, or a target that was not reached from a side.
 */
export function positioningAccuracy(targets: readonly TargetRuns[]): PositioningAccuracy {
  if (targets.length < 2) throw new RangeError(`${targets.length} targets: expected two or more`);
  const rows = targets.map(({ targetMm, forward, reverse }) => {
    if (forward.length === 0 || reverse.length === 0) {
      throw new RangeError(`the target at ${targetMm} mm was not reached from both sides`);
    }
    return { up: sideOf(forward), down: sideOf(reverse) };
  });
  const ups = rows.map(({ up }) => up.mean);
  const downs = rows.map(({ down }) => down.mean);
  const reversals = rows.map(({ up, down }) => up.mean - down.mean);
  return {
    reversal: Math.max(...reversals.map(Math.abs)),
    meanReversal: reversals.reduce((sum, one) => sum + one, 0) / reversals.length,
    systematicForward: range(ups, ups),
    systematicReverse: range(downs, downs),
    systematic: range([...ups, ...downs], [...ups, ...downs]),
    meanRange: range(
      rows.map(({ up, down }) => (up.mean + down.mean) / 2),
      rows.map(({ up, down }) => (up.mean + down.mean) / 2),
    ),
    ...repeatedOf(rows),
  };
}

interface Side {
  readonly mean: number;
  /** Standard deviation of single runs; NaN for one run. */
  readonly s: number;
}

function sideOf(runs: readonly number[]): Side {
  const mean = runs.reduce((sum, one) => sum + one, 0) / runs.length;
  const square = runs.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  return { mean, s: runs.length < 2 ? Number.NaN : Math.sqrt(square / (runs.length - 1)) };
}

function repeatedOf(
  rows: readonly { readonly up: Side; readonly down: Side }[],
): Pick<PositioningAccuracy, 'repeated'> {
  const sides = rows.flatMap(({ up, down }) => [up, down]);
  if (sides.some(({ s }) => Number.isNaN(s))) return {};
  const upper = ({ mean, s }: Side) => mean + 2 * s;
  const lower = ({ mean, s }: Side) => mean - 2 * s;
  const ups = rows.map(({ up }) => up);
  const downs = rows.map(({ down }) => down);
  return {
    repeated: {
      repeatabilityForward: Math.max(...ups.map(({ s }) => 4 * s)),
      repeatabilityReverse: Math.max(...downs.map(({ s }) => 4 * s)),
      // 2.17: the wider of both sides together with the reversal, and of each by itself.
      repeatability: Math.max(
        ...rows.map(({ up, down }) =>
          Math.max(2 * up.s + 2 * down.s + Math.abs(up.mean - down.mean), 4 * up.s, 4 * down.s),
        ),
      ),
      accuracyForward: range(ups.map(upper), ups.map(lower)),
      accuracyReverse: range(downs.map(upper), downs.map(lower)),
      accuracy: range(sides.map(upper), sides.map(lower)),
    },
  };
}

function range(highs: readonly number[], lows: readonly number[]): number {
  return Math.max(...highs) - Math.min(...lows);
}
