/** Tails and quantiles of the normal, Student's and the chi-squared distribution; real degrees of freedom. */

/** P(Z > z) of the standard normal distribution. */
export function normalTail(z: number): number {
  const half = upperGamma(0.5, (z * z) / 2) / 2;
  return z >= 0 ? half : 1 - half;
}

/** z with P(|Z| > z) = p; 0 < p ≤ 1. */
export function normalTwoSided(p: number): number {
  return invert((z) => 2 * normalTail(z), p);
}

/** P(|T| > |t|) of Student's distribution; `degrees` > 0, infinite for the normal one. DLMF 8.17. */
export function studentTwoSided(t: number, degrees: number): number {
  if (degrees === Number.POSITIVE_INFINITY) return 2 * normalTail(Math.abs(t));
  return incompleteBeta(degrees / 2, 0.5, degrees / (degrees + t * t));
}

/** t with P(|T| > t) = p; 0 < p ≤ 1. */
export function studentQuantile(p: number, degrees: number): number {
  return invert((t) => studentTwoSided(t, degrees), p);
}

/** P(X > x) of the chi-squared distribution; 1 without any freedom to differ. */
export function chiSquaredTail(x: number, degrees: number): number {
  return x > 0 && degrees > 0 ? upperGamma(degrees / 2, x / 2) : 1;
}

/** Where a falling function of x ≥ 0 has the value p. */
function invert(tail: (x: number) => number, p: number): number {
  if (p >= 1) return 0;
  let [low, high] = [0, 1];
  while (tail(high) > p && high < Number.MAX_VALUE / 2) [low, high] = [high, 2 * high];
  // Halving stops where doubles have nothing between.
  for (let middle = (low + high) / 2; middle > low && middle < high; middle = (low + high) / 2) {
    if (tail(middle) > p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

const MOST_TERMS = 100_000;
/** In place of a zero denominator: Lentz's method as modified by Thompson and Barnett (1986). */
const TINY = 1e-300;

/** Q(a, x), the regularised upper incomplete gamma function. DLMF 8.7.1 (series) and 8.9.2 (continued fraction). */
function upperGamma(a: number, x: number): number {
  if (x === 0) return 1;
  const front = Math.exp(-x + a * Math.log(x) - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let sum = term;
    for (let n = 1; n < MOST_TERMS && term > sum * Number.EPSILON; n++) {
      term *= x / (a + n);
      sum += term;
    }
    return Math.max(0, 1 - front * sum);
  }
  let b = x + 1 - a;
  let c = 1 / TINY;
  let d = 1 / b;
  let fraction = d;
  for (let n = 1; n < MOST_TERMS; n++) {
    const numerator = -n * (n - a);
    b += 2;
    d = 1 / away(numerator * d + b);
    c = away(b + numerator / c);
    fraction *= d * c;
    if (Math.abs(d * c - 1) < Number.EPSILON) break;
  }
  return front * fraction;
}

/** I_x(a, b), the regularised incomplete beta function. DLMF 8.17.22 and 8.17.4. */
function incompleteBeta(a: number, b: number, x: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  // Where the fraction converges fast.
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(b, a, 1 - x);
  const front = Math.exp(
    logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log1p(-x),
  );
  let c = 1;
  let d = 1 / away(1 - ((a + b) * x) / (a + 1));
  let fraction = d;
  for (let m = 1; m < MOST_TERMS; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / away(1 + even * d);
    c = away(1 + even / c);
    fraction *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / away(1 + odd * d);
    c = away(1 + odd / c);
    fraction *= d * c;
    if (Math.abs(d * c - 1) < Number.EPSILON) break;
  }
  return (front * fraction) / a;
}

function away(value: number): number {
  return Math.abs(value) < TINY ? TINY : value;
}

/** Bernoulli numbers B2, B4, … over 2k(2k - 1): Stirling's series, DLMF 5.11.1. */
const STIRLING = [1 / 12, -1 / 360, 1 / 1260, -1 / 1680, 1 / 1188, -691 / 360360, 1 / 156];
/** From here on the series has all digits of a double. */
const STIRLING_FROM = 10;

/** ln Γ(x), x > 0. */
function logGamma(x: number): number {
  let shift = 0;
  let y = x;
  for (; y < STIRLING_FROM; y++) shift += Math.log(y);
  let [sum, power] = [0, y];
  for (const term of STIRLING) {
    sum += term / power;
    power *= y * y;
  }
  return (y - 0.5) * Math.log(y) - y + Math.log(2 * Math.PI) / 2 + sum - shift;
}
