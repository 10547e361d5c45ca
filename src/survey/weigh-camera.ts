/**
 * What the fit cannot vouch for: whether the photos' camera behaved as was believed, and whether their
 * arrangement lets the camera pass for the machine. Doubts, and wider uncertainties where pairs of photos
 * scatter by more than they should.
 */

import {
  COVERAGE_FACTOR,
  type Measurement,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import {
  type Adjustment,
  compareRolls,
  type Departure,
  listDepartures,
  shareOfCamera,
} from '../network/index.js';
import type { Finding } from '../quantity/index.js';

export interface WeighedCamera {
  readonly squareness: Quantity;
  readonly ratio: Quantity;
  readonly findings: readonly Finding[];
}

/** A photo's departure beyond this many of its standard deviations: one false alarm in 15 000. */
const CRITICAL = 4;
/** Scatter of pairs beyond this chi-squared is no chance: by degrees of freedom, 99.9 % (tables). */
const CHI_SQUARED_999 = [0, 10.83, 13.82, 16.27, 18.47, 20.52, 22.46, 24.32];
/** Student's t over two, for 95 % and a coverage factor of 2, by degrees of freedom (tables). */
const T_FACTOR = [0, 6.353, 2.151, 1.591, 1.388, 1.285, 1.223, 1.182];
/** Fewer pairs say nothing of a scatter. */
const FEWEST_PAIRS = 3;
/** Squareness that stands on the camera to this share of its variance, if it is also poorly known. */
const MOST_OF_CAMERA = 0.9;
const POORLY_KNOWN_RAD = 1e-4;
const FEWEST_ARRANGED = 3;

/** @param names of the photos, in the order of the adjustment. */
export function weighCamera(
  adjustment: Adjustment,
  { squareness, ratio }: { readonly squareness: Quantity; readonly ratio: Quantity },
  names: readonly string[],
): WeighedCamera {
  const pairs = compareRolls(adjustment);
  const ofSquareness = judgeScatter(
    pairs.map((pair) => [pair.squareness, pair.scatterOfSquareness] as const),
  );
  const ofDifference = judgeScatter(
    pairs.map((pair) => [pair.scaleDifference, pair.scatterOfDifference] as const),
  );
  return {
    squareness: widen(squareness, ofSquareness.extraU),
    // The ratio is twice half the difference.
    ratio: widen(ratio, 2 * ofDifference.extraU),
    findings: [
      ...describeDepartures(listDepartures(adjustment), names),
      ...describeScatter('squareness', ofSquareness, 1),
      ...describeScatter('the ratio of the scales', ofDifference, 2),
      ...describeFocals(adjustment),
      ...describeArrangement(adjustment, squareness),
    ],
  };
}

interface Scatter {
  readonly isOdd: boolean;
  readonly seen: number;
  readonly expected: number;
  /** Standard error of the pairs' mean with Student's factor, where the scatter is odd; else 0. */
  readonly extraU: number;
}

function judgeScatter(pairs: readonly (readonly [value: number, sigma: number])[]): Scatter {
  const freedom = Math.min(pairs.length - 1, CHI_SQUARED_999.length - 1);
  if (pairs.length < FEWEST_PAIRS) return { isOdd: false, seen: 0, expected: 0, extraU: 0 };
  const weights = pairs.map(([, sigma]) => 1 / sigma ** 2);
  const sum = weights.reduce((total, w) => total + w, 0);
  const mean = pairs.reduce((total, [value], i) => total + weights[i]! * value, 0) / sum;
  const chiSquared = pairs.reduce(
    (total, [value], i) => total + weights[i]! * (value - mean) ** 2,
    0,
  );
  const expected = Math.sqrt(pairs.length / sum);
  const seen = expected * Math.sqrt(chiSquared / (pairs.length - 1));
  const isOdd = chiSquared > CHI_SQUARED_999[freedom]! * ((pairs.length - 1) / freedom);
  const extraU = isOdd ? (T_FACTOR[freedom]! * seen) / Math.sqrt(pairs.length) : 0;
  return { isOdd, seen, expected, extraU };
}

function widen(quantity: Quantity, extraU: number): Quantity {
  if (quantity.state === 'undetermined' || extraU <= quantity.u) return quantity;
  return { ...quantity, u: extraU, U: COVERAGE_FACTOR * extraU };
}

function describeScatter(
  what: string,
  { isOdd, seen, expected }: Scatter,
  factor: number,
): Finding[] {
  if (!isOdd) return [];
  const perMetre = (value: number) => (1000 * factor * value).toFixed(2);
  return [
    {
      code: 'ROLLS_DISAGREE',
      message: `${what} from single pairs of photos scatters by ${perMetre(seen)} mm/m, where ${perMetre(expected)} would be usual; its uncertainty was widened`,
      hint: 'take the photos again from a stand with the self-timer: a hand that moves during the exposure shears a picture unseen',
    },
  ];
}

const DEPARTURES: Record<Departure['term'], { readonly what: string; readonly hint: string }> = {
  aspect: {
    what: 'is stretched along its rows',
    hint: 'take it again from a stand, with the self-timer, and leave out edited or resized pictures',
  },
  skew: {
    what: 'is sheared',
    hint: 'take it again from a stand, with the self-timer: the hand moved while the picture was read',
  },
  f: {
    what: 'was taken at another focal length',
    hint: 'do not zoom between photos, and keep one distance',
  },
  cu: { what: 'has its centre elsewhere', hint: 'leave out cut or edited pictures' },
  cv: { what: 'has its centre elsewhere', hint: 'leave out cut or edited pictures' },
};

function describeDepartures(departures: readonly Departure[], names: readonly string[]): Finding[] {
  return names.flatMap((name, photo): Finding[] => {
    const [worst] = departures
      .filter((one) => one.photo === photo && Math.abs(one.normalised) > CRITICAL)
      .sort((a, b) => Math.abs(b.normalised) - Math.abs(a.normalised));
    if (worst === undefined) return [];
    const { what, hint } = DEPARTURES[worst.term];
    const isPixels = worst.term === 'cu' || worst.term === 'cv';
    const size = isPixels ? `${worst.value.toFixed(0)} px` : `${(1000 * worst.value).toFixed(2)} ‰`;
    return [
      {
        code: 'PHOTO_DEPARTS',
        message: `it ${what} against the others (${size}, ${Math.abs(worst.normalised).toFixed(0)} times what is usual); that was allowed for`,
        hint,
        where: name,
      },
    ];
  });
}

/** A stated focal length that was not believed. */
export function describeFocals({ network, state, disbelievedFocals = [] }: Adjustment): Finding[] {
  return disbelievedFocals.map((camera) => ({
    code: 'FOCAL_LENGTH_DOUBTED',
    message: `the focal length that the photos state was not believed: they show ${state.values[network.cameraAt[camera]].toFixed(0)} px`,
    hint: 'use photos as the phone saved them, whole and taken with one lens without zoom',
  }));
}

function describeArrangement(
  adjustment: Adjustment,
  squareness: Measurement['squareness'],
): Finding[] {
  const isWell = squareness.state !== 'undetermined' && squareness.u < POORLY_KNOWN_RAD;
  // One or two photos are advised on anyway.
  if (isWell || adjustment.network.input.photos.length < FEWEST_ARRANGED) return [];
  const share = shareOfCamera(adjustment);
  if (share < MOST_OF_CAMERA) return [];
  return [
    {
      code: 'CAMERA_RESEMBLES_MACHINE',
      message: `the photos are so arranged that the camera's centre and shape look like a machine out of square: ${Math.round(100 * share)} % of the variance of squareness comes from there`,
      hint: 'take photos square-on within 2°, two at each quarter turn of the phone, rather than tilted ones walked round the board',
    },
  ];
}
