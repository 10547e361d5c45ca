/** What to add, in words, where the evidence leaves a quantity open; the cheapest first. */

import type { Adjustment } from './adjust.js';
import { isMeasuredOnBoard } from './network-input.js';
import { isCameraFree, isTurnedByHalf, turnOfPlacements } from './placement-turns.js';
import { viewOf } from './view-of.js';

export type QuantityName =
  | 'squareness'
  | 'scale'
  | 'ratio'
  | 'lostMotion'
  | 'straightness'
  | 'racking'
  | 'periodic'
  | 'drift';

export interface Advice {
  readonly reason: string;
  readonly add: readonly string[];
}

/** Less than a third of what a quarter turn tells: |sin| of the turn. */
const SMALL_TURN = 0.34;
/** Photos beyond this tilt lean on the principal point: u(squareness) = tilt × u(principal point) / f. */
const SQUARE_ON_RAD = (5 * Math.PI) / 180;

export function adviseOn(
  adjustment: Adjustment,
  name: QuantityName,
  axis: 'x' | 'y',
  state: 'weak' | 'undetermined',
): Advice {
  const { input } = adjustment.network;
  if (name === 'lostMotion') return adviseLostMotion(adjustment, axis);
  if (name === 'periodic') return advisePeriodic(adjustment, axis);
  if (name === 'drift') return adviseDrift(adjustment, axis);
  const isOnBoard = input.observations.some((seen) => isMeasuredOnBoard(input, seen));
  if (input.photos.length === 0) {
    return {
      reason: `the points do not fix it: ${what(name)} ${state === 'weak' ? 'is only roughly told' : 'cannot be told'}`,
      add: ['measure more nodes, spread over the whole grid'],
    };
  }
  if (name === 'scale' && !isOnBoard && !input.evidence.some((e) => e.kind !== 'square')) {
    return {
      reason: 'no known length: a photo shows shapes, not sizes',
      add: [
        `tape one distance between two crossings, along ${axis.toUpperCase()} or any other way, and give it with --known`,
      ],
    };
  }
  if (isCameraFree(input)) return adviseTurned(adjustment, name, state);
  if (isTurnedByHalf(input) && (name === 'squareness' || name === 'ratio')) {
    return {
      reason: `the board was turned by half a turn between its two grids, and half a turn maps every machine error of this kind onto itself: ${what(name)} ${state === 'weak' ? 'leans on what is usual for phone cameras' : 'cannot be told'}`,
      add: [
        'mark a board with a quarter turn between its two grids, not half a turn, and take one photo',
      ],
    };
  }
  const views = input.photos.map((_, i) => viewOf(adjustment, i));
  const turned = new Set(views.map((view) => view.quarter % 2)).size > 1;
  const squareOn = views.filter((view) => view.tiltRad < SQUARE_ON_RAD).length;
  const verb = state === 'weak' ? 'leans on what is usual for phone cameras' : 'cannot be told';
  const cameraName = input.cameras.some((c) => c.focalLengthPx === undefined)
    ? 'an unknown camera'
    : 'this camera';
  if (views.length === 1) {
    return {
      reason: `one photo of ${cameraName}: ${what(name)} ${verb}, because lens, tilt and pixel shape look the same as a machine error`,
      add: [
        'take eight photos from above, square-on within 2°: two at each quarter turn of the phone, without zoom',
      ],
    };
  }
  if (!turned) {
    return {
      reason: `all photos have the phone held the same way round: ${what(name)} ${verb}, because pixel shape and lens go straight into it`,
      add: [
        'add two photos with the phone turned a quarter turn about its viewing direction, better two at each quarter turn',
      ],
    };
  }
  if (squareOn < views.length / 2) {
    return {
      reason: `most photos are tilted: ${what(name)} ${verb}, because focal length and lens centre are not known well enough`,
      add: ['add four photos square-on within 2°, one at each quarter turn of the phone'],
    };
  }
  return {
    reason: `the photos alone do not fix it: ${what(name)} ${verb}`,
    add: [
      'take two photos at each quarter turn of the phone, square-on within 2°, whole grid in view',
    ],
  };
}

/** Nothing is believed of the camera: what looks alike in all placements passes for a bent picture. */
function adviseTurned(
  adjustment: Adjustment,
  name: QuantityName,
  state: 'weak' | 'undetermined',
): Advice {
  const verb =
    state === 'weak' ? 'rests on a lens and a board that bend smoothly' : 'cannot be told';
  if (name === 'straightness') {
    return {
      reason: `S-shaped bends of both axes together look the same after a quarter turn of the board: ${what(name)} ${verb}`,
      add: [
        'mark one grid alone and take eight photos of it from above, square-on within 2°: two at each quarter turn of the phone',
      ],
    };
  }
  const turned = turnOfPlacements(adjustment.network.input);
  return {
    reason:
      turned < SMALL_TURN
        ? `the board was turned by too little between its grids: ${what(name)} ${verb}`
        : `the marks in view do not fix it: ${what(name)} ${verb}`,
    add: [
      turned < SMALL_TURN
        ? 'mark a board with a quarter turn between its two grids'
        : 'take the photo again with both grids whole in view',
    ],
  };
}

function what(name: QuantityName): string {
  return {
    squareness: 'squareness',
    scale: 'scale',
    ratio: 'the ratio of the scales',
    lostMotion: 'lost motion',
    straightness: 'straightness',
    racking: 'racking',
    periodic: 'the periodic error',
    drift: 'drift',
  }[name];
}

function adviseLostMotion({ network }: Adjustment, axis: 'x' | 'y'): Advice {
  const { input } = network;
  const own = input.segments.filter((s) => s.axis === axis);
  const senses = new Set(own.map((s) => s.approach));
  const name = axis.toUpperCase();
  const isOfPoints =
    input.photos.length === 0 || input.segments.some(({ pair }) => pair !== undefined);
  if (senses.size === 1 && senses.has(0) && isOfPoints) {
    return {
      reason: `nothing says from which side the lines across ${name} were approached`,
      add: [
        `give the program that marked them, or the columns dx and dy: the sense of the last motion before each mark, 1 or -1`,
      ],
    };
  }
  if (senses.size === 1 && senses.has(0)) {
    return {
      reason: `the program is not known, so nobody can tell from which side the lines across ${name} were approached`,
      add: [
        `mark a grid with a program in which each line is marked half from −${name} and half from +${name}`,
      ],
    };
  }
  return {
    reason: `no line across ${name} was marked from both sides: lost motion shows only between the two`,
    add: [
      `mark a line in two halves, one approached from −${name} and one from +${name}, in swapped order from line to line`,
    ],
  };
}

function advisePeriodic({ network }: Adjustment, axis: 'x' | 'y'): Advice {
  const name = axis.toUpperCase();
  if (network.input.layout.periodsMm?.[axis] === undefined) {
    return {
      reason: `after how much travel an error of the ${name} drive repeats is not known`,
      add: [`state lead, pinionTravel or pulleyTravel of ${name} in the machine file (--machine)`],
    };
  }
  return {
    reason: `the marks across ${name} meet the drive at too few places of its turn: their distances are multiples of it or of a part of it`,
    add: [
      `mark a grid with a ladder of short strokes at another distance, as gantrue plan lays it out`,
    ],
  };
}

function adviseDrift({ network }: Adjustment, axis: 'x' | 'y'): Advice {
  const name = axis.toUpperCase();
  if (network.input.segments.some((s) => s.axis === axis && s.isRepeated)) {
    return {
      reason: `the marks at constant ${name} that were made again are not to be seen, or do not fit together`,
      add: ['clear the board around the first lines and take the photos again'],
    };
  }
  return {
    reason: `no line at constant ${name} was marked again at the end`,
    add: ['mark parts of the first lines again at the end, as gantrue plan lays it out'],
  };
}
