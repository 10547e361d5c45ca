/** Why no grid was found, in words. */

import { type Failure, failed, type GreyImage } from '../quantity/index.js';
import type { Evidence } from './lattice-evidence.js';

export function notFound(
  grey: GreyImage,
  reason: string,
  attempts: number,
  evidence?: Evidence,
): { readonly ok: false; readonly failure: Failure } {
  const blur = edgeWidth(grey);
  if (blur > BLURRED_PX) {
    return failed(
      'PHOTO_BLURRED',
      'the sharpest edges of the photo are too wide to show thin lines',
      {
        hint: 'hold the camera still, focus on the board, use more light',
        figures: { edgeWidthPx: blur },
      },
    );
  }
  return failed('GRID_NOT_FOUND', `the grid of the program was not found: ${reason}`, {
    hint: 'photograph the whole grid from above; check that the program is the one that marked it; where two programs marked the board, name both',
    figures: {
      attempts,
      ...(evidence === undefined
        ? {}
        : {
            shareFound: evidence.share,
            shareBetween: Math.max(...evidence.betweenShare),
          }),
    },
  });
}

/** Edges of a usable photo are two or three px wide; twelve leave nothing of a thin line. */
const BLURRED_PX = 12;

/** Width of the steepest edges: their height over eight px against their steepest px. */
function edgeWidth(grey: GreyImage): number {
  const near: number[] = [];
  const far: number[] = [];
  const rowStep = Math.max(1, Math.floor(grey.height / 300));
  for (let v = 0; v < grey.height; v += rowStep) {
    for (let u = 16; u < grey.width - 16; u += 3) {
      const i = v * grey.width + u;
      near.push(Math.abs(grey.data[i + 1] - grey.data[i - 1]) / 2);
      far.push(Math.abs(grey.data[i + 16] - grey.data[i - 16]));
    }
  }
  const high = (values: number[]) =>
    Float64Array.from(values).sort()[Math.floor(0.998 * (values.length - 1))] ?? 0;
  const steepest = high(near);
  return steepest === 0 ? 0 : high(far) / steepest;
}
