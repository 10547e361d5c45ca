/** Image points of other software: what became of them, and which of them disagree with all others. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { type Adjustment, isKept } from '../network/index.js';
import type { Finding } from '../quantity/index.js';
import { nameOutlyingLines } from './name-outlying-lines.js';
import type { PlacedImagePoints } from './place-image-points.js';
import type { ImagePointsFile } from './read-image-points.js';

export interface WeighedImagePoints {
  readonly record: NonNullable<Measurement['imagePoints']>;
  readonly findings: readonly Finding[];
}

/** @param adjustment whose observations are those of the points, in their order. */
export function weighImagePoints(
  { network, linearised, stochastic }: Adjustment,
  { observations }: PlacedImagePoints,
  { name, sha256, points }: ImagePointsFile,
): WeighedImagePoints {
  const out = new Map<number, number>();
  observations.forEach(({ sourceLine }, i) => {
    if (isKept(network.input, stochastic, i)) return;
    out.set(sourceLine, Math.hypot(out.get(sourceLine) ?? 0, linearised.residual[i]));
  });
  const findings: Finding[] =
    out.size === 0
      ? []
      : [
          {
            code: 'IMAGE_POINTS_DISAGREE',
            message: `points lie beside the pixel that all others foretell, and were left out: ${nameOutlyingLines(out, 'px', 2)}`,
            hint: 'look whether the other software took another mark for them',
            where: name,
          },
        ];
  return { record: { file: name, sha256, points: points.length, outliers: out.size }, findings };
}
