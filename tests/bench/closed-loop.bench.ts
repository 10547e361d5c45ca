/**
 * Measured, corrected, measured again: 50 random machines (MACHINES=… for fewer), gantries along Y and X and
 * tables; and what `compare` says where sign or side were swapped.
 */

import { bench, describe } from 'vitest';
import { closeLoop, tabulateLoop } from '../simulation/closed-loop.js';

const MACHINES = Number(process.env.MACHINES ?? 50);

describe('closed loop', () => {
  const all = Array.from({ length: MACHINES }, (_, i) => closeLoop(1 + i)).flat();
  console.log(`${MACHINES} machines, eight overhead photos each time, one taped length`);
  console.table(tabulateLoop(all));
  const counts = new Map<string, number>();
  for (const { proposal, compared, swapped } of all) {
    const key = proposal.leaveAlone
      ? `left alone: ${compared.verdict}`
      : `proposed: ${compared.verdict}; swapped: ${swapped.verdict}`;
    counts.set(key, (counts.get(key) ?? 0) + 1);
  }
  console.table([...counts].map(([verdicts, count]) => ({ verdicts, count })));
  bench(
    'one machine, measured three times',
    () => {
      closeLoop(1);
    },
    { iterations: 1, time: 0, warmupIterations: 0, warmupTime: 0 },
  );
});
