/** Several measurements of one machine, each of another place of its bed: does it err alike everywhere? */

import {
  COMPARED_QUANTITIES,
  REGIONS_SCHEMA_ID,
  type RegionQuantity,
  type Regions,
} from '../../shared/schemas/comparison.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { chiSquaredTail } from '../numerics/index.js';
import { failed, type Outcome, quantitiesByKey, success } from '../quantity/index.js';
import type { MeasurementFile } from './compare-measurements.js';
import { areMachinesDifferent, haveFilesInCommon } from './doubt-comparison.js';

/** Nine quantities are asked: together they then alarm falsely once in a hundred. */
const DISAGREE = 0.001;

/**
 * For each quantity the values place by place, their mean weighted by 1/u², and whether they scatter by more than
 * their uncertainties (chi-squared about the mean). What all have in common (phone, tape) makes u too large for
 * that, so the test is cautious.
 *
 * @param files two or more.
 * Fails: NOT_COMPARABLE.
 */
export function compareRegions(
  files: readonly MeasurementFile[],
  isForced = false,
): Outcome<Regions> {
  const [first] = files;
  const other = files.find(
    ({ measurement }) =>
      first !== undefined && areMachinesDifferent(first.measurement, measurement),
  );
  if (other !== undefined && !isForced) {
    return failed('NOT_COMPARABLE', 'the measurements are of different machines', {
      where: other.file,
      hint: 'give measurements of one machine, or --force where it only changed its name',
    });
  }
  const twin = files.find(({ measurement }, i) =>
    files.slice(0, i).some((earlier) => haveFilesInCommon(earlier.measurement, measurement)),
  );
  if (twin !== undefined) {
    return failed('NOT_COMPARABLE', 'it rests on the same pictures or points as another one', {
      where: twin.file,
      hint: 'give one measurement of each place',
    });
  }
  return success({
    schema: REGIONS_SCHEMA_ID,
    measurements: files.map(({ file, measurement }) => ({
      file,
      measuredAt: measurement.measuredAt,
      ...(measurement.machine === undefined ? {} : { machine: measurement.machine }),
    })),
    quantities: COMPARED_QUANTITIES.map((what) => judge(what, files)),
  });
}

function judge(what: RegionQuantity['what'], files: readonly MeasurementFile[]): RegionQuantity {
  const values = files.map(({ measurement }) => quantitiesByKey(measurement)[what]);
  const told = values.flatMap((value) => (value.state === 'measured' ? [value] : []));
  const [first] = told;
  if (first === undefined || told.length < 2) return { what, values, verdict: 'cannot tell' };
  const weights = told.map(({ u }) => 1 / u ** 2);
  const sum = weights.reduce((total, weight) => total + weight, 0);
  const mean = told.reduce((total, { value }, i) => total + weights[i]! * value, 0) / sum;
  const chiSquared = told.reduce(
    (total, { value }, i) => total + weights[i]! * (value - mean) ** 2,
    0,
  );
  const p = chiSquaredTail(chiSquared, told.length - 1);
  const u = 1 / Math.sqrt(sum);
  return {
    what,
    values,
    mean: { value: mean, unit: first.unit, u, k: COVERAGE_FACTOR, U: COVERAGE_FACTOR * u },
    chiSquared,
    p,
    verdict: p < DISAGREE ? 'differs from place to place' : 'agrees',
  };
}
