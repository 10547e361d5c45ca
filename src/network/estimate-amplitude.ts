/** Amplitude of a wave from its estimated cosine and sine. */

export interface Amplitude {
  readonly value: number;
  readonly u: number;
  /** Unit direction [cosine, sine] that is known worst. */
  readonly worst: readonly [number, number];
}

/**
 * A length is no linear function: noise makes it larger, and adds the variances of cosine and sine to its
 * square, which is taken off. How much is taken off is itself known only as well as the wave: it counts
 * once more as doubt, beside the uncertainty in the direction that is known worst. Without that doubt
 * the intervals of amplitudes of two to four standard uncertainties come out too short (88 % instead of 95).
 *
 * @param cc variance of the cosine; ss: of the sine; cs: their covariance.
 */
export function estimateAmplitude(
  cosine: number,
  sine: number,
  { cc, ss, cs }: { readonly cc: number; readonly ss: number; readonly cs: number },
): Amplitude {
  const seen = Math.hypot(cosine, sine);
  const value = Math.sqrt(Math.max(0, seen ** 2 - cc - ss));
  const variance = (cc + ss) / 2 + Math.hypot((cc - ss) / 2, cs);
  const angle = Math.atan2(2 * cs, cc - ss) / 2;
  return {
    value,
    u: Math.hypot(Math.sqrt(variance), seen - value),
    worst: [Math.cos(angle), Math.sin(angle)],
  };
}
