/**
 * Numbers for people, in their units.
 *
 * Inch: lengths in inches, slopes in inches per foot of travel. A squareness of 0.010 in per ft is
 * what a framing square with one-foot legs shows at its end; per inch the figures would be too
 * small to read, and mil or thou would want a second unit beside the inch on the tape.
 */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';

export type Units = 'mm' | 'in';

/** What kind of number it is: mm or steps need no conversion but a length does in inches. */
export type Measure = 'length' | 'slope' | 'slopePerTravel';

const INCHES_PER_FOOT = 12;
const METRES_PER_FOOT = 0.3048;

/** From mm, rad or ratio, and rad per m to the unit shown. */
const SHOWN: Record<Measure, Record<Units, { readonly factor: number; readonly unit: string }>> = {
  length: { mm: { factor: 1, unit: 'mm' }, in: { factor: 1 / MM_PER_INCH, unit: 'in' } },
  slope: {
    mm: { factor: 1000, unit: 'mm/m' },
    in: { factor: INCHES_PER_FOOT, unit: 'in/ft' },
  },
  slopePerTravel: {
    mm: { factor: 1000, unit: 'mm/m per m' },
    in: { factor: INCHES_PER_FOOT * METRES_PER_FOOT, unit: 'in/ft per ft' },
  },
};

/** From mm, rad or ratio, and rad per m to what is shown. */
export function shownFactor(measure: Measure, units: Units): { factor: number; unit: string } {
  return SHOWN[measure][units];
}

export interface ShownValue {
  /** `0.850 ± 0.060 mm/m`. */
  readonly withU: string;
  /** Without sign and U: `0.85 mm/m`. */
  readonly size: string;
  readonly unit: string;
}

/**
 * A value with its expanded uncertainty to two significant digits, and the value to the same place
 * (GUM 7.2.6).
 *
 * @param value, U in mm, rad, ratio or rad per m.
 */
export function showValue(measure: Measure, value: number, U: number, units: Units): ShownValue {
  const { factor, unit } = SHOWN[measure][units];
  const decimals = decimalsOf(U * factor);
  return {
    withU: `${fixed(value * factor, decimals)} ± ${fixed(U * factor, decimals)} ${unit}`,
    size: `${fixed(Math.abs(value) * factor, decimals)} ${unit}`,
    unit,
  };
}

/** A difference with its sign, `+0.81 ± 0.20 mm/m`, and without its U, `+0.81 mm/m`; as `showValue`. */
export function showDifference(
  measure: Measure,
  value: number,
  U: number,
  units: Units,
): { readonly withU: string; readonly value: string } {
  const { factor, unit } = SHOWN[measure][units];
  const text = fixed(value * factor, decimalsOf(U * factor));
  const signed = value > 0 && Number(text) !== 0 ? `+${text}` : text;
  return {
    withU: `${signed} ± ${showUncertainty(measure, U, units)}`,
    value: `${signed} ${unit}`,
  };
}

/** An expanded uncertainty alone, to two significant digits; mm, rad, ratio or rad per m. */
export function showUncertainty(measure: Measure, U: number, units: Units): string {
  const { factor, unit } = SHOWN[measure][units];
  return `${fixed(U * factor, decimalsOf(U * factor))} ${unit}`;
}

/** The bare number as people are shown it; mm, rad, ratio or rad per m. */
export function shownNumber(
  measure: Measure,
  value: number,
  units: Units,
): { readonly value: number; readonly unit: string } {
  const { factor, unit } = SHOWN[measure][units];
  return { value: value * factor, unit };
}

/** From the unit in which people state an uncertainty of such a kind to mm, rad, ratio or rad per m. */
export function storedFromShown(measure: Measure, shown: number, units: Units): number {
  return shown / SHOWN[measure][units].factor;
}

/** A length or slope given in mm or mm/m, to the place that the uncertainty leaves sense in. */
export function showAmount(amount: number, U: number | undefined, unit: string, units: Units) {
  const shown = convertUnit(unit, units);
  const decimals = decimalsOf((U ?? Math.abs(amount) / 100) * shown.factor);
  const range = U === undefined ? '' : ` ± ${fixed(U * shown.factor, decimals)}`;
  return `${fixed(Math.abs(amount) * shown.factor, decimals)}${range} ${shown.unit}`;
}

/** A limit as the shop wrote it; in inches to two significant digits. */
export function showLimit(limit: number, unit: string, units: Units): string {
  const shown = convertUnit(unit, units);
  const value = limit * shown.factor;
  return `${units === 'mm' ? trimmed(value) : fixed(value, decimalsOf(value))} ${shown.unit}`;
}

/** A plain length without uncertainty: half a millimetre or two hundredths of an inch. */
export function showPlace(lengthMm: number, units: Units): string {
  return units === 'mm'
    ? `${trimmed(Math.round(lengthMm * 10) / 10)} mm`
    : `${trimmed(Math.round((lengthMm / MM_PER_INCH) * 100) / 100)} in`;
}

/** Decimals that show two significant digits of an uncertainty. */
export function decimalsOf(U: number): number {
  if (!(U > 0) || !Number.isFinite(U)) return 3;
  // Rounding may carry into the next place: 0.0996 is 0.10.
  const rounded = Number(U.toPrecision(2));
  return Math.min(8, Math.max(0, 1 - Math.floor(Math.log10(rounded))));
}

/** Fixed decimals without a minus before zero, with the true minus sign. */
export function fixed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

function convertUnit(unit: string, units: Units): { factor: number; unit: string } {
  if (units === 'in' && unit === 'mm') return { factor: 1 / MM_PER_INCH, unit: 'in' };
  if (units === 'in' && unit === 'mm/m') return { factor: INCHES_PER_FOOT / 1000, unit: 'in/ft' };
  return { factor: 1, unit };
}

function trimmed(value: number): string {
  return String(Number(value.toPrecision(6)));
}
