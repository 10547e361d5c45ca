import { describe, expect, it } from 'vitest';
import {
  exitCodeOfComparison,
  exitCodeOfFailure,
  exitCodeOfForecast,
  exitCodeOfMeasurement,
} from '../../../cli/exit-code.js';
import type { Compared } from '../../../shared/schemas/comparison.js';
import type { ForecastQuantity } from '../../../shared/schemas/forecast.js';
import { Failure, judge } from '../../../src/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

/** Limits so wide that everything measured is inside. */
const WIDE = { limits: { squareness: 9, scale: 9, lostMotion: 9, straightness: 9 } };
const NARROW = { limits: { squareness: 0.001 } };

function exitCode(changes = {}, machine: Parameters<typeof judge>[1] = WIDE, check = true) {
  const measurement = makeMeasurement(changes);
  return exitCodeOfMeasurement({ ...measurement, verdicts: judge(measurement, machine) }, check);
}

describe('the exit code of a measurement', () => {
  it('is 0 whatever was found, unless asked to check', () => {
    expect(exitCode({}, NARROW, false)).toBe(0);
    expect(exitCode({ squareness: UNDETERMINED }, WIDE, false)).toBe(0);
  });

  it('is with the check 0 inside, 1 outside, 4 undetermined or weak', () => {
    expect(exitCode()).toBe(0);
    expect(exitCode({}, NARROW)).toBe(1);
    expect(exitCode({ squareness: UNDETERMINED })).toBe(4);
    expect(exitCode({ squareness: estimate(0, 1e-4, 'rad', { state: 'weak' }) })).toBe(4);
  });

  it('is 1 where something is outside and something else undetermined', () => {
    const scale = { ...makeMeasurement().scale, x: UNDETERMINED };
    expect(exitCode({ scale }, NARROW)).toBe(1);
  });
});

describe('the exit code of a comparison', () => {
  const one = (verdict: Compared['verdict'], more: Partial<Compared> = {}): Compared => ({
    what: 'squareness',
    before: UNDETERMINED,
    after: UNDETERMINED,
    verdict,
    why: '',
    ...more,
  });
  const outside = { limit: { limit: 0.2, unit: 'mm/m', verdict: 'outside' } } as const;
  const proposed = { proposed: { change: 1 } };
  const code = (quantities: Compared[], check = true) =>
    exitCodeOfComparison({ quantities }, check);

  it('is 0 whatever was found, unless asked to check', () => {
    expect(code([one('moved the wrong way', outside)], false)).toBe(0);
  });

  it('is with the check 1 where something moved the wrong way or is still outside', () => {
    expect(code([one('did what was proposed'), one('moved the wrong way')])).toBe(1);
    expect(code([one('no change beyond U', { ...outside, ...proposed })])).toBe(1);
    expect(code([one('cannot tell', proposed), one('moved the wrong way')])).toBe(1);
  });

  it('is with the check 4 where what was proposed cannot be told, and 0 where nothing was', () => {
    expect(code([one('did what was proposed'), one('cannot tell', proposed)])).toBe(4);
    expect(code([one('did what was proposed', proposed), one('cannot tell')])).toBe(0);
  });
});

describe('the exit code of a forecast', () => {
  const quantity = (what: ForecastQuantity['what'], state: ForecastQuantity['state']) =>
    ({ what, state, unit: '1', k: 2, unlucky: { state } }) as const;
  const GOOD = [quantity('squareness', 'measured'), quantity('drift.x', 'undetermined')];
  const OPEN = [quantity('squareness', 'weak')];
  const want = (cheapest?: number) => ({
    asked: [],
    tried: [],
    ...(cheapest === undefined ? {} : { cheapest }),
  });

  it('is with the check 1 where nothing reaches what is wanted, 4 where something stays open', () => {
    const code = (forecast: Parameters<typeof exitCodeOfForecast>[0], check = true) =>
      exitCodeOfForecast(forecast, check);
    expect(code({ quantities: GOOD })).toBe(0);
    expect(code({ quantities: OPEN })).toBe(4);
    expect(code({ quantities: OPEN }, false)).toBe(0);
    expect(code({ quantities: OPEN, want: want(0) })).toBe(0);
    expect(code({ quantities: GOOD, want: want() })).toBe(1);
    expect(code({ quantities: GOOD, want: want() }, false)).toBe(0);
  });
});

describe('the exit code of a failure', () => {
  it('tells a wrong call, an unusable input and a fault apart', () => {
    expect(exitCodeOfFailure(new Failure('WRONG_CALL', 'a'))).toBe(2);
    expect(exitCodeOfFailure(new Failure('OUTPUT_EXISTS', 'a'))).toBe(2);
    expect(exitCodeOfFailure(new Failure('PHOTO_BLURRED', 'a'))).toBe(3);
    expect(exitCodeOfFailure(new Failure('INTERNAL', 'a'))).toBe(70);
  });
});
