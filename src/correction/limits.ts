/** The quantities that have a limit: where each stands in the measurement and in the machine file. */

import { DEFAULT_LIMITS, type MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';

/** The part of a measurement that limits apply to; verdicts and proposals are not needed yet. */
export type Judged = Pick<Measurement, 'squareness' | 'scale' | 'lostMotion' | 'straightness'>;

/** Key of a quantity as written in the measurement. */
export type LimitedKey =
  | 'squareness'
  | 'scale.x'
  | 'scale.y'
  | 'lostMotion.x'
  | 'lostMotion.y'
  | 'straightness.x'
  | 'straightness.y';

export interface Limited {
  readonly what: LimitedKey;
  readonly quantity: Quantity;
  /** In `unit`. */
  readonly limit: number;
  readonly unit: 'mm/m' | 'mm';
  /** From the quantity's own unit to `unit`. */
  readonly factor: 1000 | 1;
}

/** Lists the limited quantities in the order in which people set a machine right. */
export function listLimited(measurement: Judged, machine: MachineFile | undefined): Limited[] {
  const limits = { ...DEFAULT_LIMITS, ...withoutUndefined(machine?.limits ?? {}) };
  const { squareness, scale, lostMotion, straightness } = measurement;
  const slope = { unit: 'mm/m', factor: 1000 } as const;
  const length = { unit: 'mm', factor: 1 } as const;
  return [
    { what: 'squareness', quantity: squareness, limit: limits.squareness, ...slope },
    { what: 'scale.x', quantity: scale.x, limit: limits.scale, ...slope },
    { what: 'scale.y', quantity: scale.y, limit: limits.scale, ...slope },
    { what: 'lostMotion.x', quantity: lostMotion.x, limit: limits.lostMotion, ...length },
    { what: 'lostMotion.y', quantity: lostMotion.y, limit: limits.lostMotion, ...length },
    { what: 'straightness.x', quantity: straightness.x, limit: limits.straightness, ...length },
    { what: 'straightness.y', quantity: straightness.y, limit: limits.straightness, ...length },
  ];
}

export type Verdict = 'inside' | 'outside' | 'cannot tell';

/**
 * Conformity of a measured value with a limit to both sides.
 *
 * @param size |value|, limit and expanded uncertainty U in one unit.
 * Source: ISO 14253-1:2017, decision rules: inside where |value| + U ≤ limit, outside where
 * |value| - U > limit.
 */
export function compareWithLimit(size: number, U: number, limit: number): Verdict {
  if (size + U <= limit) return 'inside';
  if (size - U > limit) return 'outside';
  return 'cannot tell';
}

function withoutUndefined<T extends object>(record: T): { [K in keyof T]: NonNullable<T[K]> } {
  return Object.fromEntries(
    Object.entries(record).filter(([, value]) => value !== undefined),
  ) as never;
}
