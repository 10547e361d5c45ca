/** Choices → the numbers of the layout and all its marks. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import { type Outcome, success } from '../quantity/index.js';
import { cellCodes } from './cell-codes.js';
import { againMarks, lineMarks, outlineMarks, rungMarks } from './grid-marks.js';
import { type AxisLayout, type GridPlan, isBeside, type PlanLayout } from './grid-plan.js';
import { layOutHoles } from './insert-holes.js';
import { chooseLadderPitch, USUAL_PERIODS_MM } from './ladder-pitch.js';
import { centreMark, originMark } from './origin-mark.js';
import { checkChoices, countLines, type PlanChoices } from './plan-choices.js';
import { roundTo, tidy } from './round-to.js';

/**
 * Lengths that do not follow the spacing, in mm and in inches: round in either. Overhang: crossings
 * of the outermost lines stay whole. Run: takes up the lost motion of worn racks many times over
 * (common practice). Inset of the outline: soft limits must not trip.
 */
const FIXED = {
  mm: { overhang: 6, run: 8, outlineInset: 1, marginStep: 1, grain: 0.01, pitchStep: 0.1 },
  in: {
    overhang: 0.25,
    run: 0.3,
    outlineInset: 0.05,
    marginStep: 0.125,
    grain: 0.0005,
    pitchStep: 0.005,
  },
} as const;

/** Shares of the spacing. */
const SHARES = {
  ladderClearance: 0.15,
  rungEnd: 0.2,
  codeFirst: 0.2,
  codeStep: 0.12,
  codeLength: 0.14,
  codeRowX: 0.22,
  codeRowY: 0.62,
  low: 0.2,
  middle: 0.5,
  short: 0.6,
  high: 0.8,
  head: 0.16,
  double: 0.08,
} as const;

/** A tick longer than this would pass for a rung; shorter than the other it is hard to see. */
const LONGEST_TICK_MM = 4;

/**
 * Lays out a grid, the first or second one of a turned pair, or one of fresh marks beside a grid of the same choices.
 *
 * Fails: WRONG_CALL, naming the option.
 */
export function layOutGrid(
  choices: PlanChoices,
  placement: PlanLayout['placement'] = 'only',
): Outcome<GridPlan> {
  const checked = checkChoices(choices);
  if (!checked.ok) return checked;
  const layout = describeLayout(choices, placement);
  const holes = choices.inserts === undefined ? [] : layOutHoles(layout, choices.inserts);
  return success({ choices, layout, marks: listMarks(choices, layout), holes });
}

function listMarks(choices: PlanChoices, layout: PlanLayout): GridPlan['marks'] {
  return [
    ...originMark(layout),
    ...(layout.placement === 'only' ? outlineMarks(layout) : []),
    ...(layout.placement === 'first' ? centreMark(layout) : []),
    ...lineMarks(layout, 0),
    ...lineMarks(layout, 1),
    ...rungMarks(layout, 0),
    ...rungMarks(layout, 1),
    ...(choices.cellCodes ? cellCodes(layout) : []),
    // Last of all, so that everything that creeps has had its time.
    ...againMarks(layout, 0),
    ...againMarks(layout, 1),
  ];
}

function describeLayout(choices: PlanChoices, placement: PlanLayout['placement']): PlanLayout {
  const mmPerUnit = choices.units === 'mm' ? 1 : MM_PER_INCH;
  const fixed = FIXED[choices.units];
  const toUnits = (mm: number) => roundTo(mm / mmPerUnit, fixed.grain);
  // Twice the grain: half of it still has no more digits than the program.
  const spacing = roundTo(choices.spacingMm / mmPerUnit, 2 * fixed.grain);
  const margin = toUnits(choices.marginMm);
  const share = (of: number) => roundTo(of * spacing, fixed.grain);
  const counts = choices.travelMm.map((travel) => countLines(travel / mmPerUnit, margin, spacing));
  const common = Math.min(...counts);
  const beside = isBeside({ placement });
  const isSquare = placement === 'first' || placement === 'second';
  const cells = common - (beside ? 1 : 0) - 1;
  const ladderCell = Math.min(beside ? 3 : 2, cells - 1);
  const ladderClearance = share(SHARES.ladderClearance);
  const axisLayout = (axis: 0 | 1): AxisLayout => {
    const full = isSquare ? common : counts[axis]!;
    const travel = toUnits(choices.travelMm[axis]);
    const low = -floorTo((travel - (full - 1) * spacing) / 2, fixed.marginStep);
    const lines = beside ? full - 1 : full;
    const stated = choices.periodsMm[axis === 0 ? 'x' : 'y'];
    const periods = stated === undefined ? USUAL_PERIODS_MM : [stated];
    const room = {
      spacing,
      length: (lines - 1) * spacing,
      takenCell: ladderCell,
      clearance: ladderClearance,
    };
    const pitch = chooseLadderPitch(
      room,
      periods.map((period) => period / mmPerUnit),
      fixed.pitchStep,
    );
    return {
      low,
      high: roundTo(low + travel, fixed.grain),
      first: beside ? spacing / 2 : 0,
      lines,
      ladderPitch: roundTo(pitch, fixed.pitchStep),
    };
  };
  return {
    mmPerUnit,
    decimals: choices.units === 'mm' ? 3 : 4,
    x: axisLayout(0),
    y: axisLayout(1),
    spacing,
    margin,
    marginStep: fixed.marginStep,
    overhang: fixed.overhang,
    run: fixed.run,
    outlineInset: fixed.outlineInset,
    ladderClearance,
    rungEnd: share(SHARES.rungEnd),
    ladderCell,
    codeFirst: share(SHARES.codeFirst),
    codeStep: share(SHARES.codeStep),
    codeLength: Math.min(share(SHARES.codeLength), toUnits(LONGEST_TICK_MM)),
    codeRows: [share(SHARES.codeRowX), share(SHARES.codeRowY)],
    origin: {
      low: share(SHARES.low),
      middle: share(SHARES.middle),
      short: share(SHARES.short),
      high: share(SHARES.high),
      head: share(SHARES.head),
      double: share(SHARES.double),
    },
    feed: roundTo(choices.feedMmPerMin / mmPerUnit, 0.1),
    plungeFeed: roundTo(choices.plungeFeedMmPerMin / mmPerUnit, 0.1),
    depth: toUnits(choices.depthMm),
    clearance: toUnits(choices.clearanceMm),
    placement,
  };
}

/** The largest multiple of the step not above the value; a hair of room for binary fractions. */
function floorTo(value: number, step: number): number {
  return tidy(Math.floor(value / step + 1e-4) * step);
}
