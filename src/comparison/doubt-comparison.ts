/** What stands in the way of comparing two measurements: doubts, and what they leave open. */

import type { ComparedName } from '../../shared/schemas/comparison.js';
import type { Measurement, PlacementRecord } from '../../shared/schemas/measurement.js';
import type { Finding } from '../quantity/index.js';
import { dayMarked, daySeen, photographed, timeOf } from './when-measured.js';

export interface Doubted {
  readonly findings: readonly Finding[];
  /** Why the quantity cannot be compared; undefined where nothing stands in the way. */
  readonly open: (what: ComparedName) => string | undefined;
}

interface Doubt {
  readonly finding: Finding;
  /** Which quantities it leaves open; none where absent. */
  readonly leavesOpen?: (what: ComparedName) => boolean;
  readonly why?: string;
}

/** @param isForced names and dates do not stand in the way. */
export function doubtComparison(
  before: Measurement,
  after: Measurement,
  isForced: boolean,
): Doubted {
  const doubts = [
    doubtSame(before, after) ?? doubtOrder(before, after, isForced),
    doubtMarks(before, after),
    doubtMachines(before, after),
    doubtGantryAxes(before, after),
    doubtPrograms(before, after),
  ].filter((doubt) => doubt !== undefined);
  return {
    findings: doubts.map(({ finding }) => finding),
    open: (what) => doubts.find(({ leavesOpen }) => leavesOpen?.(what))?.why,
  };
}

const everything = () => true;

/** Whether both are one measurement, or rest on some of the same pictures or points. */
export function haveFilesInCommon(one: Measurement, other: Measurement): boolean {
  return doubtSame(one, other) !== undefined;
}

function doubtSame(before: Measurement, after: Measurement): Doubt | undefined {
  const pictures = ({ photos, points = [], imagePoints }: Measurement) => [
    ...photos.filter(({ used }) => used).map(({ sha256 }) => sha256),
    ...points.map(({ sha256 }) => sha256),
    imagePoints?.sha256,
  ];
  const seen = new Set(pictures(before).filter((sha256) => sha256 !== undefined));
  const again = pictures(after).filter((sha256) => sha256 !== undefined && seen.has(sha256));
  const isSame =
    before.measuredAt === after.measuredAt && JSON.stringify(before) === JSON.stringify(after);
  if (!isSame && again.length === 0) return undefined;
  return {
    finding: {
      code: 'SAME_MEASUREMENT',
      message: isSame
        ? 'the same measurement was given twice'
        : `both measurements rest on the same photos or files (${again.length} of them)`,
      hint: 'give the measurement made after the correction, of fresh marks',
    },
    leavesOpen: everything,
    why: 'both rest on the same pictures',
  };
}

/** Clocks of phones are compared with each other, and those of computers. */
function doubtOrder(before: Measurement, after: Measurement, isForced: boolean): Doubt | undefined {
  const [first, second] = [photographed(before), photographed(after)];
  const isEarlier =
    first !== undefined && second !== undefined
      ? second.last < first.first
      : (timeOf(after.measuredAt) ?? 0) < (timeOf(before.measuredAt) ?? 0);
  if (!isEarlier) return undefined;
  return {
    finding: {
      code: 'MEASURED_EARLIER',
      message: 'the measurement given as the later one is the earlier one by its dates',
      hint: 'give the earlier measurement first, or --force where a clock was wrong',
    },
    leavesOpen: () => !isForced,
    why: 'the measurement given as the later one is the earlier one',
  };
}

function doubtMarks(before: Measurement, after: Measurement): Doubt | undefined {
  const [seen, marked] = [daySeen(before), dayMarked(after)];
  const isMarkedEarlier = seen !== undefined && marked !== undefined && marked < seen;
  if (!isMarkedEarlier && after.fresh === undefined) return undefined;
  return {
    finding: {
      code: 'OLD_MARKS',
      message: isMarkedEarlier
        ? `the marks of the later measurement were made on ${after.marked}, before the earlier one was taken: old marks cannot show a correction`
        : 'the later measurement tells the values of the old marks beside which fresh ones stand: old marks cannot show a correction',
      hint: isMarkedEarlier
        ? 'mark fresh lines with the corrected machine and measure those'
        : 'measure the fresh marks by themselves; what changed between the two markings stands under `fresh` of that measurement',
    },
    leavesOpen: everything,
    why: 'old marks cannot show a correction: mark fresh lines',
  };
}

function doubtMachines(before: Measurement, after: Measurement): Doubt | undefined {
  if (!areMachinesDifferent(before, after)) return undefined;
  return {
    finding: {
      code: 'MACHINES_DIFFER',
      message: `the measurements name different machines: “${before.machine}” and “${after.machine}”`,
      hint: 'a change is one of the machine only if both are the same',
    },
  };
}

/** One that has no name may be the same. */
export function areMachinesDifferent(before: Measurement, after: Measurement): boolean {
  const [first, second] = [before.machine?.trim(), after.machine?.trim()];
  return Boolean(first) && Boolean(second) && first !== second;
}

function doubtGantryAxes(before: Measurement, after: Measurement): Doubt | undefined {
  if (before.gantryAxis === after.gantryAxis) return undefined;
  const name = (axis: Measurement['gantryAxis']) => (axis === 'none' ? 'none' : axis.toUpperCase());
  return {
    finding: {
      code: 'GANTRY_AXES_DIFFER',
      message: `the gantry was taken to travel along ${name(before.gantryAxis)} before and along ${name(after.gantryAxis)} after`,
      hint: 'measure once more with the right machine file; racking and proposals for the gantry depend on it',
    },
    leavesOpen: (what) => what === 'racking',
    why: 'the gantry was taken to travel along different axes',
  };
}

/** Shapes along a travel depend on how much of it is looked at; a tenth of it hardly counts. */
const SAME_RANGE = 0.1;

function doubtPrograms(before: Measurement, after: Measurement): Doubt | undefined {
  const [first, second] = [before.placements[0], after.placements[0]];
  if (first === undefined || second === undefined || isSameGrid(before, after)) return undefined;
  const isOtherRange =
    differ(first.linesAtX, second.linesAtX) || differ(first.linesAtY, second.linesAtY);
  return {
    finding: {
      code: 'PROGRAMS_DIFFER',
      message: `the measurements rest on different grids (${nameOf(before)}; ${nameOf(after)})${isOtherRange ? ', which cover other parts of the travel' : ''}`,
      hint: 'mark the same program again where straightness or racking matter: squareness and scale of another part of the travel may truly differ',
    },
    ...(isOtherRange
      ? {
          leavesOpen: (what: ComparedName) => /^(straightness|racking)/.test(what),
          why: 'the grids cover other parts of the travel',
        }
      : {}),
  };
}

function isSameGrid(before: Measurement, after: Measurement): boolean {
  if (before.placements.length !== after.placements.length) return false;
  return before.placements.every((one, i) => {
    const other = after.placements[i]!;
    if (one.sha256 !== undefined && one.sha256 === other.sha256) return true;
    return (
      String(one.linesAtX) === String(other.linesAtX) &&
      String(one.linesAtY) === String(other.linesAtY)
    );
  });
}

function differ(first: readonly number[], second: readonly number[]): boolean {
  if (first.length === 0 || second.length === 0) return true;
  const ends = (lines: readonly number[]) => [Math.min(...lines), Math.max(...lines)] as const;
  const [[from, to], [otherFrom, otherTo]] = [ends(first), ends(second)];
  const room = SAME_RANGE * Math.max(to - from, otherTo - otherFrom);
  return Math.abs(from - otherFrom) > room || Math.abs(to - otherTo) > room;
}

function nameOf({ placements }: Measurement): string {
  return placements.map(({ program }: PlacementRecord) => program).join(', ');
}
