/** An adjusted camera in words and numbers. */

import { type CameraRecord, COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { decimalsOf, fixed } from './show-number.js';

export interface CameraText {
  readonly title: string;
  readonly terms: readonly {
    readonly name: string;
    readonly value: string;
    /** Held at its value, not adjusted. */
    readonly isHeld: boolean;
  }[];
}

const TERMS = [
  ['principal distance f', 'f', ' px'],
  ['principal point x', 'cx', ' px'],
  ['principal point y', 'cy', ' px'],
  ['k1', 'k1', ''],
  ['k2', 'k2', ''],
  ['k3', 'k3', ''],
  ['p1', 'p1', ''],
  ['p2', 'p2', ''],
  ['distortion centre x', 'distortionCentreX', ' px'],
  ['distortion centre y', 'distortionCentreY', ' px'],
  ['aspect', 'aspect', ''],
  ['skew', 'skew', ''],
] as const;

/**
 * @param index among the cameras, for one without a name.
 * @param adjusted the terms that were adjusted; all where absent.
 */
export function describeCamera(
  camera: CameraRecord,
  index: number,
  adjusted?: readonly string[],
): CameraText {
  const { make, model, widthPx, heightPx, photos } = camera;
  const name = [make, model].filter(Boolean).join(' ') || `Camera ${index + 1}`;
  const isCentreTied = adjusted?.includes('centreU') === false;
  return {
    title: `${name}, ${widthPx} × ${heightPx} px, ${photos} ${photos === 1 ? 'photo' : 'photos'}`,
    terms: TERMS.flatMap(([label, key, unit]) => {
      const { value, u } = camera[key];
      const isHeld = u === 0;
      if (isCentreTied && key.startsWith('distortionCentre')) return [];
      const decimals = decimalsOf(COVERAGE_FACTOR * u);
      const shown = isHeld
        ? `held at ${Number(value.toPrecision(9))}${unit}`
        : `${fixed(value, decimals)} ± ${fixed(COVERAGE_FACTOR * u, decimals)}${unit}`;
      return [{ name: label, value: shown, isHeld }];
    }),
  };
}
