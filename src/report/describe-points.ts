/** A file of measured nodes in a sentence. */

import type { PointsRecord } from '../../shared/schemas/measurement.js';
import { fixed } from './show-number.js';

export function describePoints({ file, points, outliers, rmsMm }: PointsRecord): string {
  const left = outliers === 0 ? '' : `, ${outliers} left out as outlying`;
  return `${points} nodes measured on the board (${file})${left}; each coordinate scatters by ${fixed(rmsMm, 4)} mm`;
}
