/** Decimal rounding: text and plan must hold the same numbers. */

/** Rounds to a multiple of a decimal step, free of the dust of binary fractions. */
export function roundTo(value: number, step: number): number {
  return tidy(Math.round(value / step) * step);
}

/** Takes off the dust of binary fractions; finer than any program. */
export function tidy(value: number): number {
  return Number(value.toFixed(6)) + 0;
}

/** A length for people: no more digits than anybody measures. */
export function shown(value: number): number {
  return Number(value.toPrecision(6));
}
