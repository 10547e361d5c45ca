/** Where each program's marks lie on the board, and which of them marked a line. */

import type { DeviationRecord, PlacementRecord } from '../../shared/schemas/measurement.js';
import type { Adjustment } from '../network/index.js';
import { SAME_LINE_MM } from '../program/index.js';

/** The records with turn and shift as adjusted; the first is the datum. */
export function describePlacements(
  records: readonly PlacementRecord[],
  { network, state, covariance }: Adjustment,
): PlacementRecord[] {
  const { placementAt, table } = network;
  const termAt = (p: number) => ({
    value: state.values[p],
    u: Math.sqrt(covariance[p * table.size + p]),
  });
  return records.map((record, i) => {
    const at = placementAt[i] ?? -1;
    if (at < 0) return record;
    const rotation = termAt(at);
    const { sin, cos, atan2 } = Math;
    return {
      ...record,
      // Steps of the adjustment may have gone round.
      rotation: { ...rotation, value: atan2(sin(rotation.value), cos(rotation.value)) },
      shift: { x: termAt(at + 1), y: termAt(at + 2) },
    };
  });
}

/** The adjustment knows the lines of one machine; a line is told with the first program that marked it. */
export function tellPlacements(
  deviations: readonly DeviationRecord[],
  records: readonly PlacementRecord[],
  rungs: readonly { readonly x: readonly number[]; readonly y: readonly number[] }[],
): DeviationRecord[] {
  if (records.length < 2) return [...deviations];
  return deviations.map((record) => {
    const { axis, commanded, rung } = record;
    const placement = records.findIndex(({ linesAtX, linesAtY }, i) => {
      const lines = axis === 'x' ? linesAtX : linesAtY;
      return (rung === true ? rungs[i][axis] : lines).some(
        (at) => Math.abs(at - commanded) <= SAME_LINE_MM,
      );
    });
    return { ...record, placement: Math.max(0, placement) };
  });
}
