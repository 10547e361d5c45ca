/** What an event changed: the values after it against those before. */

import { QUANTITY_UNIT } from '../../shared/quantity-keys.js';
import type { DriftBreak } from '../../shared/schemas/drift.js';
import type { MeasurementRow, QuantityName } from '../history/index.js';
import { median, studentQuantile } from '../numerics/index.js';
import { valuesOf } from './values-of.js';

/** As many on each side: older ones may have drifted. */
const MOST_BESIDE = 8;
/** Below, the stated u say more of the scatter than the values. */
const LEAST_DEGREES = 4;
/** As k = 2: of the interval that is shown. */
const RISK = 0.0455;
/** Eleven quantities are asked at each break: so many U before one is called changed (3 u). */
const CLEAR = 1.5;

/**
 * Difference of two means with its expanded uncertainty, from the pooled scatter where there is enough of it, else
 * from the stated uncertainties, which are rather too large: what both sides have in common does not count.
 *
 * @returns undefined where one side has no value.
 */
export function changeAtBreak(
  before: readonly MeasurementRow[],
  after: readonly MeasurementRow[],
  what: QuantityName,
): DriftBreak['changes'][number] | undefined {
  const [a, b] = [
    valuesOf(before.slice(-MOST_BESIDE), what),
    valuesOf(after.slice(0, MOST_BESIDE), what),
  ];
  const [n, m] = [a.values.length, b.values.length];
  if (n === 0 || m === 0) return undefined;
  const [meanBefore, meanAfter] = [mean(a.values), mean(b.values)];
  const degrees = n + m - 2;
  const squares = sumOfSquares(a.values, meanBefore) + sumOfSquares(b.values, meanAfter);
  const stated = median([...a.u, ...b.u]);
  const isEnough = degrees >= LEAST_DEGREES && squares > 0;
  const sigma = isEnough ? Math.sqrt(squares / degrees) : stated;
  const k = studentQuantile(RISK, isEnough ? degrees : Number.POSITIVE_INFINITY);
  const U = k * sigma * Math.sqrt(1 / n + 1 / m);
  const change = meanAfter - meanBefore;
  return {
    what,
    unit: QUANTITY_UNIT[what],
    before: meanBefore,
    after: meanAfter,
    change,
    U,
    changed: Math.abs(change) > CLEAR * U,
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function sumOfSquares(values: readonly number[], about: number): number {
  return values.reduce((sum, value) => sum + (value - about) ** 2, 0);
}
