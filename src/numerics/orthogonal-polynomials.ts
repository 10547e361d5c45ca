/** Polynomials orthogonal over a discrete set of places: shape terms that carry no constant or slope. */

export interface OrthogonalPolynomials {
  /** Highest degree available (at most places - 1). */
  readonly degree: number;
  /** Value of the polynomial of degree k at t; (weighted) root mean square 1 over the places. */
  evaluate(k: number, t: number): number;
}

/**
 * Builds them by the three-term recurrence of Stieltjes.
 *
 * @param places distinct positions, any unit; n ≥ 1.
 * @param degree highest degree wanted; cut to n - 1.
 * @param weights of the places, above 0; all alike where absent.
 * Source: Forsythe, Generation and use of orthogonal polynomials for data-fitting (1957).
 */
export function orthogonalPolynomials(
  places: ArrayLike<number>,
  degree: number,
  weights: ArrayLike<number> = new Float64Array(places.length).fill(1),
): OrthogonalPolynomials {
  const n = places.length;
  const total = Array.from(weights).reduce((sum, weight) => sum + weight, 0);
  const low = Math.min(...Array.from(places));
  const high = Math.max(...Array.from(places));
  // Centred and scaled to [-1, 1]: raw millimetres to the sixth power would lose all digits.
  const centre = (low + high) / 2;
  const half = high > low ? (high - low) / 2 : 1;
  const top = Math.max(0, Math.min(degree, n - 1));
  const t = Array.from(places, (p) => (p - centre) / half);
  const alpha: number[] = [];
  const beta: number[] = [];
  const norm: number[] = [];
  let previous = t.map(() => 0);
  let current = t.map(() => 1);
  let previousSquare = 1;
  for (let k = 0; k <= top; k++) {
    const square = current.reduce((sum, p, i) => sum + weights[i] * p * p, 0);
    norm.push(Math.sqrt(square / total));
    alpha.push(current.reduce((sum, p, i) => sum + weights[i] * t[i] * p * p, 0) / square);
    beta.push(k === 0 ? 0 : square / previousSquare);
    const next = current.map((p, i) => (t[i] - alpha[k]) * p - beta[k] * previous[i]);
    previous = current;
    current = next;
    previousSquare = square;
  }
  return {
    degree: top,
    evaluate(k, place) {
      const x = (place - centre) / half;
      let before = 0;
      let value = 1;
      for (let i = 0; i < k; i++) {
        const next = (x - alpha[i]) * value - beta[i] * before;
        before = value;
        value = next;
      }
      return value / norm[k];
    },
  };
}
