/** Sizes at which the adjustment settles on simulated machines of usual quality: what a forecast takes for granted. */

import type { ExpectedSizes } from '../../src/network/index.js';

export const USUAL_SIZES: ExpectedSizes = {
  straightnessMm: 0.0053,
  progressionMm: 0.002,
  yawRad: 3e-5,
  lineMm: 0.013,
  boardMm: 0.1,
};
