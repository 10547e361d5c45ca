/** Scale errors that are no wear but a number entered wrongly, or parts that are not what the settings say. */

import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';

/** What steps per unit were multiplied or divided by. */
type Drive = 'screw' | 'rack' | 'belt';

interface Slip {
  /** Factor on the travel, or its inverse. */
  readonly ratio: number;
  readonly what: string;
  /** Only of such drives. */
  readonly drive?: Drive;
  /** In this sense alone: the travel comes out longer (1) or shorter (-1) than commanded. */
  readonly sense?: 1 | -1;
}

const SLIPS: readonly Slip[] = [
  { ratio: 2, what: 'a factor of two: microsteps, or one start of a screw counted for two' },
  { ratio: 4, what: 'a factor of four: microsteps, or encoder counts taken for lines' },
  { ratio: 1.1, what: 'ten per cent: teeth, pitch or reduction mistaken by one in ten' },
  { ratio: 0.9, what: 'ten per cent: teeth, pitch or reduction mistaken by one in ten' },
  { ratio: 25.4, what: 'a factor of 25.4: mm taken for inches' },
  {
    ratio: 25.4 / 25,
    what: '1.6 %: an inch pitch taken for the nearest metric one, or the reverse',
  },
  {
    ratio: Math.PI / 3.14,
    what: '0.05 %: π rounded to 3.14 in the travel of the pinion',
    drive: 'rack',
    // Too short a travel per turn makes too many steps per mm: the axis goes too far.
    sense: 1,
  },
  {
    // Helical racks of the common 19°31'42" (common practice, no source).
    ratio: 1 / Math.cos((19.5283 * Math.PI) / 180),
    what: '6 %: 1/cos β of helical teeth (β 19.53°) left out, or counted twice',
    drive: 'rack',
  },
  {
    ratio: 1 / Math.cos((20 * Math.PI) / 180),
    what: '6.4 %: 1/cos β of helical teeth (β 20°) left out, or counted twice',
    drive: 'rack',
  },
];
/** An axis that is off by the drive's own tolerance besides: relative. */
const OWN_TOLERANCE = 1e-4;
/** A slip that is nearer to no error than this many U is not told from wear. */
const CLEAR = 2;

/**
 * @param scale (true - commanded) / commanded.
 * @param drive only slips that such a drive allows; all where absent.
 * @returns words for the nearest slip that explains it; undefined where none does.
 */
export function wrongEntryOf(scale: number, u: number, drive?: Drive): string | undefined {
  const reach = COVERAGE_FACTOR * u + OWN_TOLERANCE;
  const distance = (ratio: number) =>
    Math.min(Math.abs(1 + scale - ratio), Math.abs(1 + scale - 1 / ratio));
  const possible = SLIPS.filter(
    (slip) =>
      (drive === undefined || slip.drive === undefined || slip.drive === drive) &&
      (slip.sense === undefined || slip.sense === Math.sign(scale)),
  );
  const [nearest] = possible.sort((a, b) => distance(a.ratio) - distance(b.ratio));
  if (nearest === undefined || distance(nearest.ratio) > reach) return undefined;
  // What is as near to another error of its own size is no sign of it.
  const isClear = Math.abs(scale) > CLEAR * reach && distance(nearest.ratio) < Math.abs(scale) / 4;
  return isClear ? nearest.what : undefined;
}
