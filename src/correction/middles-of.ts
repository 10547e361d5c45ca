/** Positions of lines halfway between both approaches. */

import type { DeviationRecord } from '../../shared/schemas/measurement.js';

export interface Middle {
  /** Commanded, mm. */
  readonly at: number;
  /** Actual minus commanded, mm. */
  readonly value: number;
}

/**
 * Lines that were approached from one side alone are taken halfway by the median lost motion of the others: where neighbours
 * are approached from different sides, lost motion would else pass for steps. Where no line has both sides, only
 * those of the side that most have count.
 *
 * @param lines of one axis; rungs are passed over.
 */
export function middlesOf(lines: readonly DeviationRecord[]): Middle[] {
  const own = lines.filter(({ rung }) => rung !== true).sort((a, b) => a.commanded - b.commanded);
  const plays = own
    .flatMap(({ forward, reverse }) =>
      forward === undefined || reverse === undefined ? [] : [reverse - forward],
    )
    .sort((a, b) => a - b);
  const play = plays[plays.length >> 1];
  const forwards = own.filter(({ forward }) => forward !== undefined).length;
  const reverses = own.filter(({ reverse }) => reverse !== undefined).length;
  const isForward = forwards >= reverses;
  return own.flatMap(({ commanded, forward, reverse }): Middle[] => {
    const at = commanded;
    if (forward !== undefined && reverse !== undefined) {
      return [{ at, value: (forward + reverse) / 2 }];
    }
    if (play !== undefined) {
      if (forward !== undefined) return [{ at, value: forward + play / 2 }];
      return reverse === undefined ? [] : [{ at, value: reverse - play / 2 }];
    }
    const value = isForward ? forward : reverse;
    return value === undefined ? [] : [{ at, value }];
  });
}
