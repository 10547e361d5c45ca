/** What one more photo would bring, of eight photos of 25 × 17 lines: asked at the end of every measurement. */

import { bench, describe } from 'vitest';
import { adjust, foretellOneMore } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { simulateNetwork } from '../simulation/simulated-network.js';

const { input } = simulateNetwork({
  sigmaPx: 0.02,
  sigmaMarkMm: 0.012,
  seed: 1,
  focalKnown: true,
  taped: false,
});
const adjustment = unwrap(adjust(input));

describe('one more photo', () => {
  bench('foretold in all its turns', () => void foretellOneMore(adjustment), {
    iterations: 3,
    time: 0,
  });
});
