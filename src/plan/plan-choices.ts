/** What an owner chooses for a grid, checked and put into the units of the program. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { shown } from './round-to.js';

export type PlanUnits = 'mm' | 'in';
export type PlanMarking = 'laser' | 'cutter';

/** Holes for threaded inserts. All lengths mm. */
export interface InsertChoices {
  /** Every how many lines an insert sits, along both axes. */
  readonly every: number;
  readonly holeDiameterMm: number;
  /** From the surface down: not more than the board, or the bed below is cut. */
  readonly holeDepthMm: number;
  readonly counterbore?: { readonly diameterMm: number; readonly depthMm: number };
  readonly toolDiameterMm: number;
  readonly depthPerPassMm: number;
  readonly feedMmPerMin: number;
  readonly spindleSpeed: number;
}

/** All lengths mm. */
export interface PlanChoices {
  readonly travelMm: readonly [x: number, y: number];
  readonly spacingMm: number;
  /** Least distance from the ends of the travel to the outermost lines. */
  readonly marginMm: number;
  /** Of the numbers in the program. */
  readonly units: PlanUnits;
  readonly marking: PlanMarking;
  readonly feedMmPerMin: number;
  /** S word during marks: beam power, or spindle speed. */
  readonly power: number;
  /** Depth of a cut mark. */
  readonly depthMm: number;
  /** Included angle of the V-bit, degrees: only for the width that the sheet states. */
  readonly bitAngleDeg: number;
  /** Height at which a cutter travels. */
  readonly clearanceMm: number;
  readonly plungeFeedMmPerMin: number;
  /** Lengths after which an error of the drive repeats: lead, travel per turn of pinion or pulley. */
  readonly periodsMm: { readonly x?: number; readonly y?: number };
  readonly cellCodes: boolean;
  /** A pair of grids for one board that is turned between them. */
  readonly turned: boolean;
  /** Fresh marks midway between the lines of an old grid of the same choices. */
  readonly fresh?: boolean;
  readonly inserts?: InsertChoices;
}

/** What holds where the owner chooses nothing; common practice, no source, unless said otherwise. */
export const PLAN_DEFAULTS = {
  mm: { spacingMm: 50, marginMm: 25 },
  in: { spacingMm: 2 * MM_PER_INCH, marginMm: MM_PER_INCH },
  laser: { feedMmPerMin: 1500, power: 300 },
  cutter: { feedMmPerMin: 1200, power: 12000 },
  depthMm: 0.3,
  bitAngleDeg: 60,
  clearanceMm: 5,
  plungeFeedMmPerMin: 300,
  inserts: {
    every: 2,
    toolDiameterMm: 6,
    depthPerPassMm: 2,
    feedMmPerMin: 900,
    spindleSpeed: 16000,
  },
} as const;

/** Travels of routers in inches are below this, in mm above it. */
const INCHES_TAKEN_FOR_MM = 150;
/** Marks of the origin, ladders and codes need this room between lines. */
const LEAST_SPACING_MM = 20;
/** Lines beyond each end of the grid, and the run up to them, must find room in the margin. */
export const LEAST_MARGIN_MM = 16;
/** Four cells each way: two halves of two cells. */
export const FEWEST_LINES = 5;
/** More marks than a day of marking. */
const MOST_LINES = 200;

/**
 * Checks the choices against each other.
 *
 * Fails: WRONG_CALL, naming the option.
 */
export function checkChoices(choices: PlanChoices): Outcome<void> {
  const { travelMm, spacingMm, marginMm, inserts } = choices;
  const positive: [string, number][] = [
    ['--travel', Math.min(...travelMm)],
    ['--feed', choices.feedMmPerMin],
    ['--power', choices.power],
    ['--depth', choices.depthMm],
    ['--clearance', choices.clearanceMm],
  ];
  for (const [option, value] of positive) {
    if (!(value > 0) || !Number.isFinite(value))
      return refuse(option, `expected a number above 0, found ${value}`);
  }
  if (!(spacingMm >= LEAST_SPACING_MM)) {
    return refuse(
      '--spacing',
      `lines ${shown(spacingMm)} mm apart leave no room for the marks between them`,
      `choose ${LEAST_SPACING_MM} mm or more`,
    );
  }
  if (!(marginMm >= LEAST_MARGIN_MM)) {
    return refuse(
      '--margin',
      `${shown(marginMm)} mm leave no room to run up to the outermost lines`,
      `choose ${LEAST_MARGIN_MM} mm or more`,
    );
  }
  for (const [axis, name] of [
    [0, 'X'],
    [1, 'Y'],
  ] as const) {
    const lines = countLines(travelMm[axis], marginMm, spacingMm);
    if (lines < FEWEST_LINES) {
      return refuse(
        '--spacing',
        `${shown(travelMm[axis])} mm of ${name} travel hold ${Math.max(0, lines)} lines ${shown(spacingMm)} mm apart, expected at least ${FEWEST_LINES}`,
        travelMm[axis] < INCHES_TAKEN_FOR_MM
          ? 'is this in inches? then say --units in (a machine file is in mm)'
          : 'choose a smaller spacing or margin',
      );
    }
    if (lines > MOST_LINES) {
      return refuse(
        '--spacing',
        `${lines} lines along ${name}, expected at most ${MOST_LINES}`,
        'choose a larger spacing; travel and spacing are in --units',
      );
    }
  }
  return inserts === undefined ? success(undefined) : checkInserts(inserts, spacingMm);
}

/** How many lines a travel holds. */
export function countLines(travelMm: number, marginMm: number, spacingMm: number): number {
  // A hair of room: 850 / 50 must not become 16.999.
  return Math.floor((travelMm - 2 * marginMm) / spacingMm + 1e-4) + 1;
}

function checkInserts(inserts: InsertChoices, spacingMm: number): Outcome<void> {
  const { every, holeDiameterMm, holeDepthMm, counterbore, toolDiameterMm } = inserts;
  const widest = Math.max(holeDiameterMm, counterbore?.diameterMm ?? 0);
  if (!Number.isInteger(every) || every < 1)
    return refuse('--insert-every', `expected a whole number from 1, found ${every}`);
  for (const [option, value] of [
    ['--hole', holeDiameterMm],
    ['--hole', holeDepthMm],
    ['--counterbore', counterbore?.diameterMm ?? 1],
    ['--counterbore', counterbore?.depthMm ?? 1],
    ['--tool-diameter', toolDiameterMm],
    ['--depth-per-pass', inserts.depthPerPassMm],
  ] as const) {
    if (!(value > 0) || !Number.isFinite(value))
      return refuse(option, `expected a number above 0, found ${value}`);
  }
  if (holeDiameterMm < toolDiameterMm) {
    return refuse(
      '--hole',
      `a tool of ${shown(toolDiameterMm)} mm cuts no hole of ${shown(holeDiameterMm)} mm`,
      'choose a smaller tool with --tool-diameter',
    );
  }
  if (counterbore !== undefined && counterbore.diameterMm <= holeDiameterMm) {
    return refuse(
      '--counterbore',
      'the counterbore is no wider than the hole',
      'leave it out, or make it wider',
    );
  }
  if (counterbore !== undefined && counterbore.depthMm >= holeDepthMm) {
    return refuse(
      '--counterbore',
      'the counterbore is as deep as the hole',
      'make the hole deeper or the counterbore shallower',
    );
  }
  if (widest > spacingMm / 2) {
    return refuse(
      '--spacing',
      `holes ${shown(widest)} mm wide destroy lines ${shown(spacingMm)} mm apart`,
      'leave at least half of the spacing between holes',
    );
  }
  return success(undefined);
}

function refuse(
  option: string,
  message: string,
  hint = 'correct the option',
): ReturnType<typeof failed> {
  return failed('WRONG_CALL', `${option}: ${message}`, { hint });
}
