/** What a set of photos lacks, as far as it shows before anything is solved. */

import type { PhotoSet, PhotoSetAdvice } from '../../shared/schemas/photo-check.js';
import type { PhotoVerdict } from '../../shared/schemas/photo-verdict.js';

/** What a usable photo adds to the judgement of the set. */
export interface PhotoOfSet {
  readonly verdict: PhotoVerdict;
  /** Turn of the sensor's rows against the board, rad; of a photo that was stored turned, of the stored rows. */
  readonly rollRad?: number;
  /** Software stored the picture turned by a quarter: the sensor lay across what is stored. */
  readonly isCrossed: boolean;
  /** Index of its camera. */
  readonly camera: number;
  readonly hasFocalLength: boolean;
}

/** What is known of the grid's turn in the photos, against each other. */
export type KnownTurn = 'whole' | 'half' | 'none';

/** As the guide to taking photos has it: two at each quarter turn. */
const RECOMMENDED = 8;
const EACH_TURN = 2;
const PLAN = 'take eight, two at each quarter turn of the phone';
/** The sample's first two photos, a quarter turn apart, leave squareness weak, its first three do not. */
const FEWEST = 3;
/** Beyond this tilt a photo is no help for squareness; the advice on results has the same limit. */
const SQUARE_ON_RAD = (5 * Math.PI) / 180;
const QUARTER_RAD = Math.PI / 2;

/** @param isTurned the board was turned between two programs: one photo will do. */
export function judgePhotoSet(
  photos: readonly PhotoOfSet[],
  known: KnownTurn,
  isTurned = false,
): PhotoSet {
  if (photos.length === 0) {
    const text = `no photo can be used; ${PLAN}`;
    return { state: 'not enough', usable: 0, advice: [{ about: 'number', needed: true, text }] };
  }
  if (isTurned) {
    const poor = adviseOnPoor(photos);
    return { state: stateOf(poor), usable: photos.length, advice: poor };
  }
  const quarters = photos.map(({ rollRad, isCrossed }) =>
    rollRad === undefined ? undefined : Math.round(rollRad / QUARTER_RAD) + (isCrossed ? 1 : 0),
  );
  const told = quarters.every((quarter) => quarter !== undefined) ? quarters : undefined;
  const turns =
    known === 'whole' && told !== undefined && !photos.some(({ isCrossed }) => isCrossed)
      ? countTurns(told)
      : undefined;
  const isOneWay =
    known === 'none' || told === undefined
      ? undefined
      : new Set(told.map((quarter) => Math.abs(quarter % 2))).size === 1;
  const advice = [
    ...adviseOnNumber(photos.length),
    ...adviseOnPoor(photos),
    ...adviseOnTurns(photos.length, isOneWay, turns),
    ...adviseOnViews(photos),
    ...adviseOnCameras(photos),
  ];
  return {
    state: stateOf(advice),
    usable: photos.length,
    ...(turns === undefined ? {} : { quarterTurns: turns }),
    advice,
  };
}

function stateOf(advice: readonly PhotoSetAdvice[]): PhotoSet['state'] {
  if (advice.some(({ needed }) => needed)) return 'not enough';
  return advice.length > 0 ? 'usable' : 'good';
}

type Turns = NonNullable<PhotoSet['quarterTurns']>;

function countTurns(quarters: readonly number[]): Turns {
  const counts: Turns = [0, 0, 0, 0];
  for (const quarter of quarters) counts[((quarter % 4) + 4) % 4]++;
  return counts;
}

function adviseOnNumber(count: number): PhotoSetAdvice[] {
  if (count >= RECOMMENDED) return [];
  return [
    count < FEWEST
      ? {
          about: 'number',
          needed: true,
          text: `too few: from ${count === 1 ? 'one photo' : `${count} photos`} only lost motion and straightness can be told, squareness stays weak; ${PLAN}`,
        }
      : {
          about: 'number',
          needed: false,
          text: `${count} photos do, more make the uncertainty smaller: ${PLAN}`,
        },
  ];
}

/** A poor photo is worth half of a good one or less. */
function adviseOnPoor(photos: readonly PhotoOfSet[]): PhotoSetAdvice[] {
  const poor = photos.filter(({ verdict }) => verdict.state === 'poor').length;
  if (poor <= photos.length / 2) return [];
  return [
    {
      about: 'photos',
      needed: poor === photos.length,
      text: `${poor === photos.length ? 'all' : `${poor} of ${photos.length}`} photos are poor: take them again with what is said of each`,
    },
  ];
}

function adviseOnTurns(
  count: number,
  isOneWay: boolean | undefined,
  turns: Turns | undefined,
): PhotoSetAdvice[] {
  if (isOneWay === undefined) {
    return [
      {
        about: 'way round',
        needed: false,
        text: 'which way round the phone was held cannot be told from this grid: see to it that it was turned a quarter turn for half of the photos, or say --origin',
      },
    ];
  }
  if (isOneWay) {
    return [
      {
        about: 'one way round',
        needed: true,
        text:
          count === 1
            ? 'turn the phone a quarter turn for half of the photos: what belongs to the camera turns with it, what belongs to the machine stays'
            : 'all photos are held the same way round: turn the phone a quarter turn for half of the photos; what belongs to the camera turns with it, what belongs to the machine stays',
      },
    ];
  }
  const lacking = turns?.flatMap((n, i) => (n < EACH_TURN ? [`${90 * i}°`] : [])) ?? [];
  // With fewer photos the plan was just named.
  if (count < RECOMMENDED || lacking.length === 0) return [];
  return [
    {
      about: 'turns',
      needed: false,
      text: `fewer than two photos with the phone turned by ${lacking.join(' and ')} against the board's X: two at each quarter turn are best`,
    },
  ];
}

function adviseOnViews(photos: readonly PhotoOfSet[]): PhotoSetAdvice[] {
  const views = photos.flatMap(({ verdict }) => verdict.view ?? []);
  const squareOn = views.filter(({ tiltRad }) => tiltRad < SQUARE_ON_RAD).length;
  const advice: PhotoSetAdvice[] = [];
  if (squareOn < views.length / 2) {
    advice.push({
      about: 'tilt',
      needed: squareOn === 0,
      text: `${squareOn === 0 ? 'all' : 'most'} photos are tilted by more than 5°: focal length and lens centre go into squareness then; take four square-on within 2°, one at each quarter turn`,
    });
  }
  if (photos.every(({ verdict }) => (verdict.coverage?.cut.length ?? 0) > 0)) {
    advice.push({
      about: 'coverage',
      needed: false,
      text: 'no photo shows the whole grid: what no photo shows is not measured, and its edges weigh most',
    });
  }
  return advice;
}

function adviseOnCameras(photos: readonly PhotoOfSet[]): PhotoSetAdvice[] {
  const advice: PhotoSetAdvice[] = [];
  const cameras = new Set(photos.map(({ camera }) => camera)).size;
  if (cameras > 1) {
    advice.push({
      about: 'cameras',
      needed: false,
      text: `the photos come from ${cameras} cameras, lenses or picture sizes, and each has to be solved for: use one, the main lens without zoom`,
    });
  }
  if (photos.some(({ hasFocalLength }) => !hasFocalLength)) {
    advice.push({
      about: 'lens',
      needed: false,
      text: 'files do not say the focal length, and photos from straight above hardly show it: give the original files as the phone saved them',
    });
  }
  return advice;
}
