/** What lies on the board does not move the marks beside it. */

import { describe, expect, it } from 'vitest';
import { coverDisc } from './picture-blunders.js';
import { drawStraightMarks } from './straight-marks.js';
import { BASE } from './sub-pixel-cases.js';
import { errorsOf } from './sub-pixel-score.js';

describe('a black cover over a tenth of the picture', () => {
  // Lines along the rows of pixels lie along the cover's edge for longest.
  for (const rollDeg of [0, 90, 4]) {
    for (const grey of [0, 3, 20]) {
      it(`grey ${grey}, marks turned by ${rollDeg}°: neither refuses the picture nor moves a family`, () => {
        const drawn = drawStraightMarks({ ...BASE, rollDeg, seed: 3 });
        coverDisc(drawn, 0.1, [0.3, 0.3], grey);
        const { errors, failure } = errorsOf(drawn);
        expect(failure).toBeUndefined();
        // 112 segments less the cover's tenth and those on its edge.
        expect(errors.length).toBeGreaterThan(85);
        for (const axis of ['x', 'y']) {
          const own = errors.filter(({ segment }) => segment.axis === axis);
          const mean = own.reduce((sum, e) => sum + e.errorPx, 0) / own.length;
          // Single segments scatter by 0.008 px; whole lines share the phase of the pixels.
          expect(Math.abs(mean)).toBeLessThan(0.03);
          expect(Math.max(...own.map((e) => Math.abs(e.errorPx - mean) / e.sigmaPx))).toBeLessThan(
            5,
          );
        }
      });
    }
  }
});
