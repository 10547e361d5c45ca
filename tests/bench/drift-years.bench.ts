/**
 * Years of simulated machines, looked at every week: false alarms, delay until a drift is called, machine or
 * board. `MACHINES=…` for fewer than 200, `SEED=…` for others.
 */

import { bench, describe } from 'vitest';
import { firstCall, lookAt, simulateYears, type YearsScene } from '../simulation/years.js';

const MACHINES = Number(process.env.MACHINES ?? 200);
const SEED = Number(process.env.SEED ?? 500_000);
const DAYS_PER_MONTH = 365.2425 / 12;
const YEARS = 3;
const YEARS_ROWS = simulateYears({ seed: 1, weeks: 52 * YEARS });

const seeds = (group: number) =>
  Array.from({ length: MACHINES }, (_, i) => SEED + 10_000 * group + i);

function falseAlarms(): void {
  const first = seeds(0).map((seed) => firstCall(simulateYears({ seed, weeks: 52 * YEARS })));
  const within = (weeks: number) => first.filter(({ week }) => week !== undefined && week < weeks);
  const names = first.flatMap(({ what }) => what);
  console.log(
    `no drift, ${MACHINES} machines, 9 quantities, weekly: called within 1 year ${within(52).length}, 2 years ${within(104).length}, 3 years ${within(156).length} (${names.sort().join(' ')})`,
  );
}

function delays(perMonth: number): void {
  const slopes = { squareness: perMonth / DAYS_PER_MONTH };
  const weeks = seeds(1)
    .map((seed) => firstCall(simulateYears({ seed, weeks: 104, slopes }), 'squareness').week)
    .map((week) => week ?? Number.POSITIVE_INFINITY)
    .sort((a, b) => a - b);
  const share = (part: number) => weeks[Math.min(MACHINES - 1, Math.floor(part * MACHINES))];
  console.log(
    `squareness ${1000 * perMonth} mm/m per month: called after ${share(0.05)} / ${share(0.5)} / ${share(0.95)} weeks (5 %, half, 95 %), at most ${weeks.at(-1)}`,
  );
}

function verdicts(title: string, scene: Omit<YearsScene, 'seed' | 'weeks'>): void {
  const counts: Record<string, number> = {};
  for (const seed of seeds(2)) {
    const { verdict } = lookAt(simulateYears({ seed, weeks: 27, ...scene })).explanation;
    counts[verdict] = (counts[verdict] ?? 0) + 1;
  }
  console.log(`${title}: ${JSON.stringify(counts)}`);
}

const growth = (week: number) => (1e-3 * week) / 26;
const humidity = (week: number) => 40 + (24 * week) / 26;
const slopes = { 'scale.x': 1e-3 / 182, 'scale.y': 1e-3 / 182 };

describe('simulated years', () => {
  falseAlarms();
  for (const perMonth of [0.1e-3, 0.05e-3, 0.02e-3]) delays(perMonth);
  verdicts('board swells by 1 mm/m, old marks', { growth, marks: 'old', board: 'A' });
  verdicts('board swells, marks of unknown age, humidity noted', {
    growth,
    humidity,
    marks: 'unknown',
  });
  verdicts('board swells, marks of unknown age, humidity not noted', { growth, marks: 'unknown' });
  verdicts('scale of the machine grows by 1 mm/m, fresh marks', { slopes, humidity });
  verdicts('nothing moves, old marks', { marks: 'old', board: 'A' });
  verdicts('nothing moves, fresh marks', {});
  verdicts('nothing moves, marks of unknown age, humidity rises', { humidity, marks: 'unknown' });
  bench('one look at three years', () => void lookAt(YEARS_ROWS), { iterations: 5, time: 0 });
});
