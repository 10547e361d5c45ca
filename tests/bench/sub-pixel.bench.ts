/** How near the measurement across marks comes to what is possible, over a sweep of drawn pictures; and its time. */

import { bench, describe } from 'vitest';
import { measureSegments } from '../../src/marks/index.js';
import { cutStrokes, describeGrid } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { scorePicture } from '../simulation/sub-pixel-score.js';
import { CASES, BASE } from '../simulation/sub-pixel-cases.js';
import { drawStraightMarks } from '../simulation/straight-marks.js';

const SEEDS = [1, 2, 3];

describe('sub-pixel measurement', () => {
  console.table(
    CASES.map(({ title, picture, axes }) => {
      const score = scorePicture({ ...BASE, ...picture, seed: 0 }, SEEDS, axes);
      return score;
    }),
  );
});
