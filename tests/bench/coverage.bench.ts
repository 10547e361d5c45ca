/**
 * Whether the intervals hold what they promise: 200 boards per set of photos (BOARDS=… for fewer), cameras
 * drawn from what is believed of them, and once with half and double the wander of single photos.
 */

import { bench, describe } from 'vitest';
import { COVERAGE_PLANS, measureDrawnBoard, tabulate } from '../simulation/coverage.js';

const BOARDS = Number(process.env.BOARDS ?? 200);

function show(title: string, name: string, wander: number): void {
  const boards = Array.from({ length: BOARDS }, (_, i) =>
    measureDrawnBoard(COVERAGE_PLANS[name]!, i + 1, wander),
  );
  const failed = boards.filter((board) => board.length === 0).length;
  console.log(`${title}: ${BOARDS} boards, ${failed} without a solution`);
  console.table(
    tabulate(boards).map((row) => ({
      quantity: row.quantity,
      told: row.told.toFixed(2),
      'inside ± 1.96 u': row.inside.toFixed(3),
      scatter: row.scatter.toExponential(2),
      'mean U': row.meanU.toExponential(2),
      'U / (2 scatter)': row.honesty.toFixed(2),
      'scatter / bound': row.overBound.toFixed(2),
    })),
  );
}

describe('coverage', () => {
  for (const name of Object.keys(COVERAGE_PLANS)) show(name, name, 1);
  for (const wander of [0.5, 2]) {
    for (const name of ['four rolls', 'eight overhead']) {
      show(`${name}, wander × ${wander}`, name, wander);
    }
  }
  bench(
    'one board, eight photos',
    () => {
      measureDrawnBoard(COVERAGE_PLANS['eight overhead']!, 1);
    },
    { iterations: 3, time: 0, warmupIterations: 0, warmupTime: 0 },
  );
});
