/** Files of points in a sentence. */

import type { Measurement, PointsRecord } from '../../shared/schemas/measurement.js';
import { fixed } from './show-number.js';

export function describePoints({ file, points, outliers, rmsMm }: PointsRecord): string {
  return `${points} nodes measured on the board (${file})${leftOut(outliers)}; each coordinate scatters by ${fixed(rmsMm, 4)} mm`;
}

export function describeImagePoints({
  file,
  points,
  outliers,
}: NonNullable<Measurement['imagePoints']>): string {
  return `${points} points found in photos by other software (${file})${leftOut(outliers)}`;
}

function leftOut(outliers: number): string {
  return outliers === 0 ? '' : `, ${outliers} left out as outlying`;
}
