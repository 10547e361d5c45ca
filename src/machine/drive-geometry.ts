/** What a drive travels per turn, and what its steps per unit are by its own geometry. */

import type { AxisFile } from '../../shared/schemas/machine.js';

/**
 * Travel per turn of the screw, pinion or pulley, mm; undefined where the machine file does not say. What is stated
 * outright goes before what follows from parts.
 *
 * Screw: pitch × starts. Belt: teeth × pitch. Pinion: π × module × teeth / cos β, the module being that of the normal
 * section, β the helix angle on the pitch cylinder (ISO 21771; from memory).
 */
export function travelPerTurn(axis: AxisFile | undefined): number | undefined {
  if (axis === undefined) return undefined;
  return axis.lead ?? axis.pinionTravel ?? axis.pulleyTravel ?? travelByParts(axis);
}

/** The same by the drive's parts alone. */
export function travelByParts({
  pitch,
  starts,
  teeth,
  module,
  helixAngle = 0,
}: AxisFile): number | undefined {
  if (module !== undefined && teeth !== undefined) {
    return (Math.PI * module * teeth) / Math.cos((helixAngle * Math.PI) / 180);
  }
  if (pitch !== undefined && teeth !== undefined) return pitch * teeth;
  if (pitch !== undefined && starts !== undefined) return pitch * starts;
  return undefined;
}

/** Steps per mm by geometry: steps per turn of the motor × its turns per turn of the drive / travel. */
export function stepsByGeometry(axis: AxisFile | undefined): number | undefined {
  const travel = travelPerTurn(axis);
  if (axis?.stepsPerTurn === undefined || travel === undefined) return undefined;
  return (axis.stepsPerTurn * (axis.reduction ?? 1)) / travel;
}
