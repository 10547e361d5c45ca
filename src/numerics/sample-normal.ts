/** Repeatable draws from a multivariate normal distribution. */

import { CholeskyDecomposition, Matrix } from 'ml-matrix';

/**
 * @param mean length n.
 * @param covariance n × n, positive definite.
 * @returns `count` draws, the same for the same input, so that a result can be repeated; undefined where
 *   the covariance is not positive definite.
 */
export function sampleNormal(
  mean: readonly number[],
  covariance: readonly (readonly number[])[],
  count: number,
): number[][] | undefined {
  const n = mean.length;
  if (n === 0) return Array.from({ length: count }, () => []);
  const symmetric = covariance.map((row, i) =>
    row.map((value, j) => (i <= j ? value : covariance[j][i])),
  );
  const decomposition = new CholeskyDecomposition(new Matrix(symmetric));
  if (!decomposition.isPositiveDefinite()) return undefined;
  const lower = decomposition.lowerTriangularMatrix;
  const uniform = uniformSource();
  return Array.from({ length: count }, () => {
    // Box and Muller, A note on the generation of random normal deviates (1958).
    const z = mean.map(() => {
      const radius = Math.sqrt(-2 * Math.log(1 - uniform()));
      return radius * Math.cos(2 * Math.PI * uniform());
    });
    return mean.map((m, i) => {
      let value = m;
      for (let k = 0; k <= i; k++) value += lower.get(i, k) * z[k];
      return value;
    });
  });
}

/** Marsaglia, Xorshift RNGs (2003), 32 bit, from a fixed start. @returns numbers in [0, 1). */
function uniformSource(): () => number {
  let state = 2463534242;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}
