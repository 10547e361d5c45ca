/**
 * How the grey beside the marks of a family scatters after averaging along a segment: pixel noise that
 * averages out, and grain that does not, with its correlation across. Ordinary least squares takes a
 * stripe of grain for hundreds of independent pixels.
 */

/** Residuals of one segment's pixels, averaged along it, per px across. */
export interface ResidualProfile {
  /** Distance of the first bin from the mark's zero; px. */
  readonly firstPx: number;
  /** Mean residual of the segment's two halves; grey values, NaN where no pixel lies. */
  readonly halves: readonly [Float64Array, Float64Array];
  readonly lengthPx: number;
}

/** Variance of a bin's mean = white + Σ of CORRELATIONS; shares of it that sink with the segment's length. */
export interface BackgroundNoise {
  /** Usual length of the segments it was measured on; px. */
  readonly lengthPx: number;
  /** Variance of a bin's mean from what is uncorrelated across; grey². */
  readonly white: number;
  /** What is correlated by each of CORRELATIONS, averaged along the segment, and what the halves share of it; grey². */
  readonly short: Float64Array;
  readonly long: Float64Array;
}

/** Lengths over which grain is correlated across; px. */
const SCALES_PX = [0.8, 1.6, 3.2, 6.4, 12.8];
/** So slow that it is almost a slope, which every segment has of its own: light, and the widest grain; px. */
const SLOPE_PX = 25.6;
/**
 * Correlations across by the distance in px, rough and smooth ones. Rough ones alone, beside a parabola for
 * the slope of the light, took smooth grain of some px for such a slope and stated a quarter of its error.
 */
export const CORRELATIONS: readonly ((distancePx: number) => number)[] = [
  ...SCALES_PX.map((scale) => (distance: number) => matern(distance, scale)),
  ...[...SCALES_PX, SLOPE_PX].map((scale) => (distance: number) => bell(distance, scale)),
];
/** Rounding to whole grey values over a bin of some dozens of pixels: nothing is better known; grey². */
const LEAST_WHITE = 1 / 12 / 100;
/** Lags used at most; px. */
const FARTHEST_PX = 40;
/** Fewer pairs of bins tell no variance. */
const FEWEST_PAIRS = 30;
const DESCENTS = 400;

/**
 * Fits the noise to the variogram of the bins beside the marks, non-negative parts, robust.
 *
 * Source: N. Cressie, D. M. Hawkins, Robust estimation of the variogram I (1980), eq. for the mean of
 * square roots.
 *
 * @param besidePx bins at least this far from the mark's zero hold background.
 * @returns undefined where there are too few such bins.
 */
export function measureBackground(
  profiles: readonly ResidualProfile[],
  besidePx: number,
): BackgroundNoise | undefined {
  const all = makeLags();
  const difference = makeLags();
  for (const { firstPx, halves } of profiles) {
    const [a, b] = halves;
    const beside: number[] = [];
    for (let k = 0; k < a.length; k++) {
      if (Math.abs(firstPx + k) >= besidePx && !Number.isNaN(a[k] + b[k])) beside.push(k);
    }
    for (let i = 1; i < beside.length; i++) {
      for (let j = 0; j < i; j++) {
        const lag = beside[i] - beside[j];
        if (lag > FARTHEST_PX) continue;
        const da = a[beside[i]] - a[beside[j]];
        const db = b[beside[i]] - b[beside[j]];
        all.count[lag]++;
        all.roots[lag] += Math.sqrt(Math.abs(da + db) / 2);
        difference.count[lag]++;
        difference.roots[lag] += Math.sqrt(Math.abs(da - db) / 2);
      }
    }
  }
  const lags = Array.from(all.count.keys()).filter((lag) => all.count[lag] >= FEWEST_PAIRS);
  if (lags.length < 3) return undefined;
  const total = fitVariogram(all, lags);
  const short = fitVariogram(difference, lags);
  return {
    lengthPx: profiles.reduce((sum, p) => sum + p.lengthPx, 0) / profiles.length,
    white: Math.max(LEAST_WHITE, total.white),
    short: total.scales.map((v, j) => Math.min(v, short.scales[j])),
    long: total.scales.map((v, j) => Math.max(0, v - short.scales[j])),
  };
}

interface Lags {
  readonly count: Float64Array;
  readonly roots: Float64Array;
}

function makeLags(): Lags {
  return {
    count: new Float64Array(FARTHEST_PX + 1),
    roots: new Float64Array(FARTHEST_PX + 1),
  };
}

/** Non-negative least squares by coordinate descent. */
function fitVariogram({ count, roots }: Lags, lags: readonly number[]) {
  const terms = [
    () => 1,
    ...CORRELATIONS.map((correlation) => (lag: number) => 1 - correlation(lag)),
  ];
  const n = terms.length;
  const matrix = new Float64Array(n * n);
  const right = new Float64Array(n);
  for (const lag of lags) {
    const semi = (roots[lag] / count[lag]) ** 4 / (0.457 + 0.494 / count[lag]) / 2;
    if (!(semi > 0)) continue;
    // The scatter of a variogram's value is as large as itself.
    const weight = count[lag] / (semi * semi);
    const row = terms.map((term) => term(lag));
    for (let i = 0; i < n; i++) {
      right[i] += weight * row[i] * semi;
      for (let j = 0; j < n; j++) matrix[i * n + j] += weight * row[i] * row[j];
    }
  }
  const x = new Float64Array(n);
  for (let round = 0; round < DESCENTS; round++) {
    for (let i = 0; i < n; i++) {
      let sum = right[i];
      for (let j = 0; j < n; j++) if (j !== i) sum -= matrix[i * n + j] * x[j];
      x[i] = matrix[i * n + i] > 0 ? Math.max(0, sum / matrix[i * n + i]) : 0;
    }
  }
  return { white: x[0], scales: x.slice(1) };
}

/** Matérn's correlation of order 3/2: smooth where the lens has blurred the grain, long enough in its tail. */
function matern(distancePx: number, scalePx: number): number {
  const x = (Math.sqrt(3) * distancePx) / scalePx;
  return (1 + x) * Math.exp(-x);
}

function bell(distancePx: number, scalePx: number): number {
  return Math.exp(-((distancePx / scalePx) ** 2));
}
