/** The one place where outcomes become exit codes. */

import { EXIT, FAILURE_CODES } from '../shared/failure-codes.js';
import type { Comparison, Regions } from '../shared/schemas/comparison.js';
import type { FixtureResult } from '../shared/schemas/fixture.js';
import type { Forecast } from '../shared/schemas/forecast.js';
import type { Measurement } from '../shared/schemas/measurement.js';
import type { Failure } from '../src/index.js';

export function exitCodeOfFailure(failure: Failure): number {
  return FAILURE_CODES[failure.code].exit;
}

/**
 * Of a measurement that was made. With `check`: outside a limit before undetermined, because it is
 * certain; a weak value counts as undetermined, because nobody may rely on it.
 */
export function exitCodeOfMeasurement(
  { verdicts, squareness, scale, lostMotion, straightness }: Measurement,
  check: boolean,
): number {
  if (!check) return EXIT.done;
  if (verdicts.some(({ verdict }) => verdict === 'outside')) return EXIT.outsideLimits;
  const asked = [
    squareness,
    scale.x,
    scale.y,
    lostMotion.x,
    lostMotion.y,
    straightness.x,
    straightness.y,
  ];
  return asked.every(({ state }) => state === 'measured') ? EXIT.done : EXIT.undetermined;
}

/**
 * Of a forecast. With `check`: what is wanted and reached by no set of photos counts as outside; without a
 * wish, what a measurement under `check` would ask for must come to be measured.
 */
export function exitCodeOfForecast(
  { want, quantities }: Pick<Forecast, 'want' | 'quantities'>,
  check: boolean,
): number {
  if (!check) return EXIT.done;
  if (want !== undefined) return want.cheapest === undefined ? EXIT.outsideLimits : EXIT.done;
  const asked = quantities.filter(
    ({ what }) => !/^(scale\.ratio|racking|periodic|drift)/.test(what),
  );
  return asked.every(({ state }) => state === 'measured') ? EXIT.done : EXIT.undetermined;
}

/**
 * Of a comparison. With `check`: the wrong way or outside a limit before what cannot be told, because it is
 * certain.
 */
export function exitCodeOfComparison(
  { quantities }: Pick<Comparison, 'quantities'>,
  check: boolean,
): number {
  if (!check) return EXIT.done;
  const isBad = quantities.some(
    ({ verdict, limit }) => verdict === 'moved the wrong way' || limit?.verdict === 'outside',
  );
  if (isBad) return EXIT.outsideLimits;
  const isOpen = quantities.some(
    ({ verdict, proposed }) => verdict === 'cannot tell' && proposed !== undefined,
  );
  return isOpen ? EXIT.undetermined : EXIT.done;
}

/** Of places of one bed. With `check`: where something differs, and where nothing can be told. */
export function exitCodeOfRegions(
  { quantities }: Pick<Regions, 'quantities'>,
  check: boolean,
): number {
  if (!check) return EXIT.done;
  if (quantities.some(({ verdict }) => verdict === 'differs from place to place')) {
    return EXIT.outsideLimits;
  }
  return quantities.every(({ verdict }) => verdict === 'cannot tell')
    ? EXIT.undetermined
    : EXIT.done;
}

/**
 * Of a fixture that was looked at. With `check`: a feature outside its tolerance as this machine would meet it, after
 * the best offset and rotation; then what was not found or cannot be told.
 */
export function exitCodeOfFixture({ features }: FixtureResult, check: boolean): number {
  if (!check) return EXIT.done;
  const verdicts = features.map(({ asUsed, asPlaced }) => (asUsed ?? asPlaced)?.verdict);
  if (verdicts.includes('outside')) return EXIT.outsideLimits;
  const isOpen =
    features.some(({ state }) => state !== 'found') || verdicts.includes('cannot tell');
  return isOpen ? EXIT.undetermined : EXIT.done;
}
