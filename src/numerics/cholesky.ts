/** Cholesky's factor of small dense matrices, in place: no allocation in inner loops. */

/**
 * @param a lower triangle, n × n row-major; becomes the factor.
 * @param leastShare of a diagonal element that must be left of it: less is rounding.
 * @returns false where the matrix is not positive definite; `a` is spoilt then.
 */
export function factorise(a: Float64Array, n: number, leastShare = 0): boolean {
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = a[i * n + j];
      for (let k = 0; k < j; k++) sum -= a[i * n + k] * a[j * n + k];
      if (i !== j) a[i * n + j] = sum / a[j * n + j];
      else if (!(sum > 0) || sum <= leastShare * a[i * n + i]) return false;
      else a[i * n + i] = Math.sqrt(sum);
    }
  }
  return true;
}

/** Solves L x = b for the factor L; b becomes x. */
export function forwardSubstitute(factor: Float64Array, n: number, b: Float64Array): Float64Array {
  for (let i = 0; i < n; i++) {
    let sum = b[i];
    for (let k = 0; k < i; k++) sum -= factor[i * n + k] * b[k];
    b[i] = sum / factor[i * n + i];
  }
  return b;
}

/** Solves Lᵀ x = b for the factor L; b becomes x. */
export function backSubstitute(factor: Float64Array, n: number, b: Float64Array): Float64Array {
  for (let i = n - 1; i >= 0; i--) {
    let sum = b[i];
    for (let k = i + 1; k < n; k++) sum -= factor[k * n + i] * b[k];
    b[i] = sum / factor[i * n + i];
  }
  return b;
}
