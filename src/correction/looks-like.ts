/** What deviations of a shape may come from on each kind of drive, and the check that would tell. Common practice, no source. */

import type { ShapeKind } from './read-shape.js';

type Drive = 'screw' | 'rack' | 'belt';

export interface Likeness {
  readonly looksLike: string;
  readonly check: string;
}

const STEP: Record<Drive, Likeness> = {
  rack: {
    looksLike: 'a joint between two racks that are set too far apart or too close',
    check:
      'lay a piece of rack, teeth down, across the joint there: it must sit without rocking; then mark again',
  },
  screw: {
    looksLike: 'steps lost, or a coupling that slipped, while the grid was marked',
    check: 'tighten the coupling, lower the speed, mark again: a step that stays is in the screw',
  },
  belt: {
    looksLike: 'a tooth jumped, or a belt clamp that slipped, while the grid was marked',
    check: 'look at tension and clamps, mark again: a step that stays is in the belt',
  },
};

const KNEE: Record<Drive, Likeness> = {
  rack: {
    looksLike: 'two racks of unlike pitch, or one that is not parallel to its guide',
    check: 'dial from the carriage to the rack’s back along the travel',
  },
  screw: {
    looksLike: 'a nut or a bearing that binds from there on, or two pieces of screw',
    check: 'disconnect the motor and turn the screw by hand along the travel: it must go evenly',
  },
  belt: {
    looksLike: 'a belt that rubs or climbs from there on, or is spliced',
    check: 'watch the belt along the travel; look at pulleys and tension',
  },
};

const BEND: Record<Drive, Likeness> = {
  rack: {
    looksLike: 'a rack that is bowed against its guide',
    check: 'dial from the carriage to the rack’s back along the travel',
  },
  screw: {
    looksLike: 'a screw that grew warm or hangs through, or a lead that changes along it',
    check: 'mark once cold and once warm; look whether the screw whips in the middle',
  },
  belt: {
    looksLike: 'a belt that stretches: its free length changes along the travel',
    check: 'raise the tension to the maker’s figure and mark again',
  },
};

const GROWING: Record<Drive, Likeness> = {
  rack: {
    looksLike: 'a rack that lies farther from its pinion at that end',
    check: 'feel the play between pinion and rack at both ends, motor held',
  },
  screw: {
    looksLike: 'a screw or nut that is worn there, or a loose bearing at that end',
    check: 'dial on the carriage: push and pull by hand at both ends, motor held',
  },
  belt: {
    looksLike: 'a belt whose free length, and so its stretch, grows toward that end',
    check: 'raise the tension to the maker’s figure; push and pull by hand at both ends',
  },
};

const BY_KIND: Record<ShapeKind, Record<Drive, Likeness>> = {
  step: STEP,
  knee: KNEE,
  bend: BEND,
  'growing lost motion': GROWING,
};

/** Of an unknown drive all that may be. */
export function likenessOf(kind: ShapeKind, drive: Drive | undefined, isMore: boolean): Likeness {
  if (kind === 'step' && drive === 'rack') {
    const gap = isMore ? 'too far apart' : 'too close to each other';
    return { ...STEP.rack, looksLike: `a joint between two racks that are set ${gap}` };
  }
  if (drive !== undefined) return BY_KIND[kind][drive];
  const all = (['screw', 'rack', 'belt'] as const).map((one) => [one, BY_KIND[kind][one]] as const);
  return {
    looksLike: all.map(([one, { looksLike }]) => `of a ${one}: ${looksLike}`).join('; '),
    check: all.map(([one, { check }]) => `of a ${one}: ${check}`).join('; '),
  };
}

/** What repeats with every turn of the drive. */
export function likenessOfPeriod(drive: Drive | undefined): Likeness {
  const part =
    drive === 'screw'
      ? 'a screw that is bent or whose bearing runs out'
      : drive === 'rack'
        ? 'a pinion that runs out'
        : drive === 'belt'
          ? 'a pulley that runs out'
          : 'a screw, pinion or pulley that runs out';
  return {
    looksLike: part,
    check:
      'set a dial on the shaft or the teeth and turn it by hand: the run-out shows once a turn',
  };
}

/** A guide's deviation along its travel: one bow, an S, or a kink. */
export function likenessOfGuide(
  curve: readonly { readonly at: number; readonly value: number }[] | undefined,
): Likeness | undefined {
  if (curve === undefined || curve.length < 5) return undefined;
  const turns = countTurns(curve.map(({ value }) => value));
  if (turns === 1) {
    return {
      looksLike: 'a rail or beam that is bowed from end to end, or fixed out of line at its middle',
      check: 'a stretched wire or a straightedge along the rail: the gap in the middle',
    };
  }
  return {
    looksLike: 'a rail that follows an uneven seat, or is joined or pinched at some of its screws',
    check: 'loosen and tighten the rail’s screws one after the other along a straightedge',
  };
}

/** Turns by less than this share of the whole are wander. */
const LEAST_TURN = 0.15;

function countTurns(values: readonly number[]): number {
  const least = LEAST_TURN * (Math.max(...values) - Math.min(...values));
  let [low, high] = [values[0]!, values[0]!];
  let isRising: boolean | undefined;
  let turns = 0;
  for (const value of values) {
    low = Math.min(low, value);
    high = Math.max(high, value);
    const goesUp = value - low > least && isRising !== true;
    const goesDown = high - value > least && isRising !== false;
    if (!goesUp && !goesDown) continue;
    if (isRising !== undefined) turns++;
    isRising = goesUp;
    [low, high] = [value, value];
  }
  return turns;
}
