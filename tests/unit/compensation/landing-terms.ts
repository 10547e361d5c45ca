/** Errors of a machine made up by hand, for a grid of 900 by 600 mm. */

import type { LandingTerms } from '../../../src/compensation/choose-terms.js';

export const LINES_X = [0, 150, 300, 450, 600, 750, 900];
export const LINES_Y = [0, 100, 200, 300, 400, 500, 600];

export function landingTerms(changes: Partial<LandingTerms> = {}): LandingTerms {
  return {
    squarenessRad: 0,
    scaleX: 0,
    scaleY: 0,
    straightnessX: [],
    straightnessY: [],
    tableX: [],
    tableY: [],
    yaw: [],
    gantryAxis: 'y',
    linesAtX: LINES_X,
    linesAtY: LINES_Y,
    ...changes,
  };
}
