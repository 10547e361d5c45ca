/** Where each program's marks lie on the board, and which of them marked a line. */

import type { DeviationRecord, PlacementRecord } from '../../shared/schemas/measurement.js';
import { COMMON_SCALE } from '../machine/index.js';
import type { Adjustment } from '../network/index.js';
import { SAME_LINE_MM } from '../program/index.js';

/** Known worse than this, no length was given: no board's size is doubted so much; relative. */
const SCALE_UNKNOWN = 0.01;

/**
 * The records with turn and shift as adjusted; the first is the datum. Where no length is known, shifts are in mm as the
 * machine counts them.
 */
export function describePlacements(
  records: readonly PlacementRecord[],
  { network, state, covariance }: Adjustment,
): PlacementRecord[] {
  const { placementAt, table } = network;
  const n = table.size;
  const termAt = (p: number) => ({
    value: state.values[p],
    u: Math.sqrt(covariance[p * n + p]),
  });
  const size = termAt(COMMON_SCALE);
  const shiftAt = (p: number) => {
    const told = termAt(p);
    if (size.u < SCALE_UNKNOWN) return told;
    const value = told.value / (1 + size.value);
    const bySize = -value / (1 + size.value);
    const ofShift = 1 / (1 + size.value);
    const variance =
      (ofShift * told.u) ** 2 +
      (bySize * size.u) ** 2 +
      2 * ofShift * bySize * covariance[p * n + COMMON_SCALE];
    return { value, u: Math.sqrt(Math.max(0, variance)) };
  };
  return records.map((record, i) => {
    const at = placementAt[i] ?? -1;
    if (at < 0) return record;
    const rotation = termAt(at);
    const { sin, cos, atan2 } = Math;
    return {
      ...record,
      // Steps of the adjustment may have gone round.
      rotation: { ...rotation, value: atan2(sin(rotation.value), cos(rotation.value)) },
      shift: { x: shiftAt(at + 1), y: shiftAt(at + 2) },
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
