/** Deviations that no setting mends: what to look for, and why steps per unit must wait. */

import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Estimate, Measurement, ProposalRecord } from '../../shared/schemas/measurement.js';
import { HANDS_IN_MACHINE } from './cautions.js';
import { likenessOf, likenessOfPeriod } from './looks-like.js';
import type { Shape } from './read-shape.js';

type Drive = NonNullable<NonNullable<NonNullable<MachineFile['axes']>['x']>['drive']> | undefined;

const WORDS: Record<
  Shape['kind'],
  (axis: string, at: string, size: string, isMore: boolean) => string
> = {
  step: (axis, at, size, isMore) =>
    `positions of ${axis} step by ${size} mm toward ${isMore ? '+' : '−'}${axis} at ${at}: beyond it everything lies ${isMore ? 'too far' : 'too near'}`,
  knee: (axis, at, size) =>
    `the slope of ${axis} positions changes at ${at}: ${size} mm off a straight line`,
  bend: (axis, _, size) => `positions of ${axis} follow a bend of ${size} mm, not a straight slope`,
  'growing lost motion': (axis, at, size) =>
    `lost motion of ${axis} grows toward ${at}, by ${size} mm over the grid: forward and reverse slopes differ`,
};

export function mendShape(axis: 'x' | 'y', shape: Shape, drive: Drive): ProposalRecord {
  const name = axis.toUpperCase();
  const size = Math.abs(shape.sizeMm);
  const at = `${name}${Math.round(shape.atMm)}`;
  return {
    what: `position.${axis}`,
    leaveAlone: false,
    amount: size,
    unit: 'mm',
    U: shape.U,
    side: `${name} drive`,
    direction: shape.kind === 'bend' ? 'along the whole travel' : `at ${at}`,
    why: `${WORDS[shape.kind](name, at, size.toFixed(3), shape.sizeMm > 0)}: a setting would only hide it`,
    ...likenessOf(shape.kind, drive, shape.sizeMm > 0),
    cautions: [HANDS_IN_MACHINE],
  };
}

/** @param limit of lost motion, mm: an error that repeats spoils as much as play of its size. */
export function mendPeriod(
  axis: 'x' | 'y',
  periodic: NonNullable<Measurement['periodic']>['x'] | undefined,
  limit: number,
  drive: Drive,
): ProposalRecord | undefined {
  if (periodic === undefined || periodic.state !== 'measured') return undefined;
  const { value, U, period } = periodic;
  const peakToValley = 2 * value;
  if (value < U || peakToValley <= limit) return undefined;
  const name = axis.toUpperCase();
  return {
    what: `periodic.${axis}`,
    leaveAlone: false,
    amount: peakToValley,
    unit: 'mm',
    U: 2 * U,
    side: `${name} drive`,
    direction: `with every turn${period === undefined ? '' : ` (${Number(period.toFixed(3))} mm)`}`,
    why: `${name} runs ahead and falls behind by this much from peak to valley, with every turn of its drive`,
    ...likenessOfPeriod(drive),
    cautions: [HANDS_IN_MACHINE],
  };
}

/** A shape of more than this share of what the slope makes over the grid is the larger part of the fault. */
const MOST_HIDDEN = 0.5;

/** Why new steps per unit would hide a mechanical fault; undefined where they would not. */
export function whatWouldBeHidden(
  axis: 'x' | 'y',
  scale: Estimate,
  shapes: readonly Shape[],
  placements: Measurement['placements'],
): string | undefined {
  const lines = placements.flatMap((one) => (axis === 'x' ? one.linesAtX : one.linesAtY));
  if (lines.length < 2) return undefined;
  const slopeMm = Math.abs(scale.value) * (Math.max(...lines) - Math.min(...lines));
  const worst = shapes.find(({ sizeMm }) => Math.abs(sizeMm) > MOST_HIDDEN * slopeMm);
  if (worst === undefined) return undefined;
  const kind = { step: 'a step', knee: 'a knee', bend: 'a bend' } as const;
  const what = worst.kind === 'growing lost motion' ? 'lost motion that grows' : kind[worst.kind];
  return `${what} of ${Math.abs(worst.sizeMm).toFixed(3)} mm makes most of this error: new steps per unit would hide it; mend that first and measure again`;
}
