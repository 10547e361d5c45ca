/** Each quantity in the words of a workshop: what it is called, which way it goes, how much. */

import type { ForecastName } from '../../shared/schemas/forecast.js';
import {
  COVERAGE_FACTOR,
  type Estimate,
  type Measurement,
  type Quantity,
  type VerdictRecord,
} from '../../shared/schemas/measurement.js';
import { scaleAt20Felt } from '../correction/index.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { showLimit, showPlace, showValue, type Units } from './show-number.js';

export interface QuantityText {
  readonly key: string;
  readonly name: string;
  readonly state: Quantity['state'];
  /** `0.850 ± 0.060 mm/m`; absent where undetermined. */
  readonly value?: string;
  /** Which way and how much, in a sentence; absent where undetermined. */
  readonly meaning?: string;
  /** Why it is weak or undetermined. */
  readonly reason?: string;
  /** What to add, one entry each. */
  readonly add: readonly string[];
  readonly verdict?: VerdictRecord['verdict'];
  /** `limit 0.2 mm/m`. */
  readonly limit?: string;
  /** Why it cannot be told, where that is not the state's reason already. */
  readonly verdictWhy?: string;
}

/** All quantities in the order in which they are shown. */
export function describeQuantities(measurement: Measurement, units: Units): QuantityText[] {
  const { squareness, scale, lostMotion, straightness, racking, gantryAxis } = measurement;
  const describe = (key: ForecastName, quantity: Quantity, say: Say) =>
    describeOne(key, quantity, say, measurement, units);
  const rows = [
    describe('squareness', squareness, saySquareness),
    describe('scale.x', scale.x, sayScale('X', sayAt20(measurement, 'x', units))),
    describe('scale.y', scale.y, sayScale('Y', sayAt20(measurement, 'y', units))),
    describe('scale.ratio', scale.ratio, sayRatio),
    describe('lostMotion.x', lostMotion.x, sayLostMotion('X')),
    describe('lostMotion.y', lostMotion.y, sayLostMotion('Y')),
    describe('straightness.x', straightness.x, sayStraightness('X')),
    describe('straightness.y', straightness.y, sayStraightness('Y')),
  ];
  if (gantryAxis !== 'none') {
    rows.push(describe('racking', racking, sayRacking(measurement, units)));
  }
  for (const axis of ['x', 'y'] as const) {
    const name = axis.toUpperCase();
    const periodic = measurement.periodic?.[axis];
    // Whoever states no period does not ask for it.
    if (periodic?.period !== undefined) {
      const say = sayPeriodic(name, showPlace(periodic.period, units));
      rows.push(describe(`periodic.${axis}`, periodic, say));
    }
  }
  // Where nothing was marked again nobody asks; where one axis tells, the silence of the other one counts.
  const showsDrift = Object.values(measurement.drift ?? {}).some(
    ({ state }) => state !== 'undetermined',
  );
  for (const axis of ['x', 'y'] as const) {
    const name = axis.toUpperCase();
    const drift = measurement.drift?.[axis];
    if (drift !== undefined && showsDrift) {
      rows.push(describe(`drift.${axis}`, drift, sayDrift(name)));
    }
  }
  return rows;
}

/** A sentence for an estimate; `amount` gives a slope over a handy length or a length. */
type Say = (estimate: Estimate, amount: string, isNothing: boolean) => string;

function describeOne(
  key: ForecastName,
  quantity: Quantity,
  say: Say,
  { verdicts }: Measurement,
  units: Units,
): QuantityText {
  const verdict = verdicts.find(({ what }) => what === key);
  const judged =
    verdict === undefined
      ? {}
      : {
          verdict: verdict.verdict,
          limit: `limit ${showLimit(verdict.limit, verdict.unit, units)}`,
          ...(verdict.verdict === 'cannot tell' && quantity.state === 'measured'
            ? { verdictWhy: verdict.why }
            : {}),
        };
  const measure = MEASURE_OF[key];
  const base = {
    key,
    name: QUANTITY_NAME[key],
    state: quantity.state,
    add: quantity.add ?? [],
    ...judged,
  };
  if (quantity.state === 'undetermined') return { ...base, reason: quantity.reason };
  const shown = showValue(measure, quantity.value, quantity.U, units);
  const isNothing = Math.abs(quantity.value) < quantity.U;
  const amount = measure === 'slope' ? overHandyLength(shown.size, units) : shown.size;
  return {
    ...base,
    value: shown.withU,
    meaning: say(quantity, amount, isNothing),
    ...(quantity.reason === undefined ? {} : { reason: quantity.reason }),
  };
}

/** `0.85 mm over 1000 mm`, `0.010 in over 12 in`. */
function overHandyLength(size: string, units: Units): string {
  return units === 'mm'
    ? size.replace(' mm/m', ' mm over 1000 mm')
    : size.replace(' in/ft', ' in over 12 in');
}

const saySquareness: Say = ({ value }, amount, isNothing) =>
  isNothing
    ? 'no lean of Y against X beyond the uncertainty'
    : `the Y axis leans toward ${value > 0 ? '+X' : '−X'}: ${amount}`;

const sayScale =
  (axis: string, at20: string): Say =>
  ({ value }, amount, isNothing) =>
    (isNothing
      ? `no error of scale of ${axis} beyond the uncertainty`
      : `${axis} travels too ${value > 0 ? 'far' : 'short'}: ${amount}`) + at20;

/** Where the temperature at marking is felt in the scale. */
function sayAt20(measurement: Measurement, axis: 'x' | 'y', units: Units): string {
  const felt = scaleAt20Felt(measurement, axis);
  if (felt === undefined) return '';
  const { value, U } = felt.at20;
  return `; so with the machine at ${felt.markedAt} °C, at 20 °C ${showValue('slope', value, U, units).withU}`;
}

const sayRatio: Say = ({ value }, amount, isNothing) =>
  isNothing
    ? 'no difference of the scales beyond the uncertainty'
    : `X travels ${value > 0 ? 'farther' : 'shorter'} than Y: ${amount}`;

const sayLostMotion =
  (axis: string): Say =>
  ({ value }, amount, isNothing) => {
    if (isNothing) return `no lost motion of ${axis} beyond the uncertainty`;
    return value > 0
      ? `after a reversal ${axis} stays ${amount} behind the command`
      : `after a reversal ${axis} goes ${amount} too far: its setting compensates too much`;
  };

const sayPeriodic =
  (axis: string, period: string): Say =>
  (_, amount, isNothing) =>
    isNothing
      ? `${axis} shows no error that repeats every ${period}`
      : `${axis} strays by ${amount} to either side every ${period}, a turn of its drive: look for a bent or eccentric screw, pinion or pulley`;

const sayDrift =
  (axis: string): Say =>
  ({ value }, amount, isNothing) =>
    isNothing
      ? `${axis} came back to the same place at the end`
      : `marks made again at the end lie ${amount} toward ${value > 0 ? '+' : '−'}${axis}`;

const sayStraightness =
  (axis: string): Say =>
  (_, amount, isNothing) =>
    isNothing
      ? `no bend of ${axis} motion beyond the uncertainty`
      : `${axis} motion bends by ${amount} from peak to valley`;

/** With squareness at both ends of the gantry's travel, which is what racking does to the work. */
const sayRacking =
  ({ gantryAxis, racking }: Measurement, units: Units): Say =>
  ({ value }, _, isNothing) => {
    if (isNothing) return 'no difference of the two sides of the gantry beyond the uncertainty';
    const travel = gantryAxis.toUpperCase();
    const beam = gantryAxis === 'y' ? 'X' : 'Y';
    const plusGains = gantryAxis === 'y' ? value > 0 : value < 0;
    const gains = `the ${plusGains ? '+' : '−'}${beam} side of the gantry travels farther than the other, toward +${travel}`;
    if (racking.squarenessAtEnds === undefined) return gains;
    const ends = racking.squarenessAtEnds.map(
      ({ at, value: squareness, u }) =>
        `${showValue('slope', squareness, COVERAGE_FACTOR * u, units).withU} at ${travel} ${showPlace(at, units)}`,
    );
    return `${gains}; squareness is ${ends.join(', ')}`;
  };
