/** What sets of photos reach, and how long their adjustment takes; simulated sightings, no pictures. */

import { bench, describe } from 'vitest';
import { adjust, estimateMachine } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { simulateNetwork } from '../simulation/simulated-network.js';

/** Pixel noise of a segment and wander of a burnt edge as the sample photos show them. */
const NOISE = { sigmaPx: 0.02, sigmaMarkMm: 0.012 };
const SEEDS = [1, 2, 3];
/** Scenes hold eight photos, each a quarter turn from the last. */
const PLANS: Record<string, readonly number[]> = {
  'one photo': [0],
  'two, the same way round': [0, 4],
  'two, a quarter turn apart': [0, 1],
  'four, each quarter turn': [0, 1, 2, 3],
  'eight, each quarter turn twice': [0, 1, 2, 3, 4, 5, 6, 7],
};

const inMmPerM = (rad: number) => (1000 * rad).toFixed(3);

describe('adjusting photos', () => {
  const table: Record<string, string>[] = [];
  for (const [plan, photos] of Object.entries(PLANS)) {
    const results = SEEDS.map((seed) => {
      const { input, truth } = simulateNetwork({
        ...NOISE,
        seed,
        photos,
        focalKnown: true,
        taped: true,
      });
      const { squareness } = estimateMachine(unwrap(adjust(input)));
      return squareness.state === 'undetermined'
        ? { state: squareness.state, U: '–', off: '–' }
        : {
            state: squareness.state,
            U: inMmPerM(squareness.U),
            off: inMmPerM(squareness.value - truth.squareness),
          };
    });
    const column = (key: 'state' | 'U' | 'off') => results.map((result) => result[key]).join('  ');
    table.push({
      photos: plan,
      squareness: column('state'),
      'U, mm/m': column('U'),
      'off by, mm/m (one per machine)': column('off'),
    });
  }
  console.table(table);

  for (const plan of ['one photo', 'eight, each quarter turn twice']) {
    const { input } = simulateNetwork({
      ...NOISE,
      seed: SEEDS[0]!,
      photos: PLANS[plan]!,
      focalKnown: true,
      taped: true,
    });
    bench(
      plan,
      () => {
        unwrap(adjust(input));
      },
      { iterations: 3, time: 0, warmupIterations: 0, warmupTime: 0 },
    );
  }
});
