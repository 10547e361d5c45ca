/** How near the measurement across marks comes to what is possible, over a sweep of drawn pictures; its time. */

import { bench, describe } from 'vitest';
import { drawStraightMarks } from '../simulation/straight-marks.js';
import { BASE, CASES } from '../simulation/sub-pixel-cases.js';
import { errorsOf, scorePicture } from '../simulation/sub-pixel-score.js';

const SEEDS = [1, 2, 3];

describe('sub-pixel measurement', () => {
  console.table(
    CASES.map(({ title, picture, axes }) => {
      const score = scorePicture({ ...BASE, ...picture, seed: 0 }, SEEDS, axes);
      return {
        picture: title,
        failure: score.failure ?? '',
        'rms, px': score.rmsPx.toFixed(4),
        'common to a family, px': score.biasPx.toFixed(4),
        'bound, px': score.boundPx.toFixed(4),
        'rms / bound': score.overBound.toFixed(2),
        'rms / stated': score.overSigma.toFixed(2),
        'rejected, %': (100 * score.rejected).toFixed(1),
      };
    }),
  );

  const drawn = drawStraightMarks({ ...BASE, seed: 1 });
  bench('112 segments of 70 px', () => {
    errorsOf(drawn);
  });
});
