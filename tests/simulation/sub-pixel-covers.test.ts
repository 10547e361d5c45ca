/** What lies on the board does not move the marks beside it. */

import { describe, expect, it } from 'vitest';
import { coverDisc, edgeAlong, scratch } from './picture-blunders.js';
import { drawStraightMarks } from './straight-marks.js';
import { BASE, box } from './sub-pixel-cases.js';
import { errorsOf, scorePicture } from './sub-pixel-score.js';

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

describe('a scratch or an edge along a line', () => {
  const place = { isX: true, lineMm: 60, fromMm: 40, toMm: 140, widthPx: 1.5 };
  const isTouched = ({ axis, fromMm }: { axis: string; fromMm: readonly number[] }) =>
    axis === 'x' && Math.abs(fromMm[0] - 60) < 0.001 && fromMm[1] > 40 && fromMm[1] < 140;

  for (const [title, spoil] of [
    ...[1, 2, 3].flatMap((offPx) =>
      [0.55, 0.85].map(
        (share) =>
          [
            `a scratch of ${share} of the grey, ${offPx} px off`,
            (drawn: ReturnType<typeof drawStraightMarks>) =>
              scratch(drawn, { ...place, offPx }, share),
          ] as const,
      ),
    ),
    [
      'the edge of a stain that takes 30 %, on the line',
      (drawn: ReturnType<typeof drawStraightMarks>) =>
        edgeAlong(drawn, { ...place, offPx: 0, widthPx: 40 }, (under) => 0.7 * under),
    ],
    [
      'the edge of a stain that takes 10 %, 4 px off',
      (drawn: ReturnType<typeof drawStraightMarks>) =>
        edgeAlong(drawn, { ...place, offPx: -4, widthPx: 40 }, (under) => 0.9 * under),
    ],
  ] as const) {
    it(`${title}: over five segments, none of them is accepted beyond five of its sigmas`, () => {
      const drawn = drawStraightMarks({ ...BASE, wanderMm: 0.02, seed: 2 });
      spoil(drawn);
      const { errors, failure } = errorsOf(drawn);
      expect(failure).toBeUndefined();
      const own = errors.filter(({ segment }) => segment.axis === 'x');
      const clear = own.filter(({ segment }) => !isTouched(segment));
      // Eight lines of seven segments less five.
      expect(clear.length).toBe(51);
      const mean = clear.reduce((sum, e) => sum + e.errorPx, 0) / clear.length;
      for (const e of own) expect(Math.abs(e.errorPx - mean) / e.sigmaPx).toBeLessThan(5);
    });
  }
});

describe('marks of 12 px on a board of six lines', () => {
  it('a falsely measured lens neither shifts lines nor spoils the corners', () => {
    const picture = { pxPerMm: 8, lines: 6, profileAt: () => box(12, 70), noiseGrey: 0.3 };
    const { overBound, rejected } = scorePicture({ ...BASE, ...picture, seed: 0 }, [1]);
    expect(rejected).toBe(0);
    // 60 segments leave 9 % open about a standard deviation; three times that above the goal of 1.2.
    expect(overBound).toBeLessThan(1.5);
  });
});
