/** Years of simulated machines; the seeds were not looked at while the limits of the tests were chosen. */

import { describe, expect, it } from 'vitest';
import { DAY_MS, firstCall, lookAt, simulateYears } from './years.js';

/** The long run, with many more machines, is `tests/bench/drift-years.bench.ts`. */
const MACHINES = 10;
const SEED = 91_000;
const DAYS_PER_MONTH = 365.2425 / 12;

const each = (from: number) => Array.from({ length: MACHINES }, (_, i) => from + i);

describe('a machine measured every week', () => {
  it('that does not drift is hardly ever called within a year, nine quantities and 50 looks together', () => {
    const called = each(SEED).filter(
      (seed) => firstCall(simulateYears({ seed, weeks: 52 })).week !== undefined,
    );
    // The long run finds about 1 in 12: of ten machines four or more would come by chance once in 130 times.
    expect(called.length).toBeLessThanOrEqual(3);
  }, 60_000);

  it('that leans by 0.05 mm/m more each month is called within half a year', () => {
    const slopes = { squareness: 0.05e-3 / DAYS_PER_MONTH };
    for (const seed of each(SEED + 100)) {
      const { week } = firstCall(simulateYears({ seed, weeks: 27, slopes }), 'squareness');
      expect(week, `seed ${seed}`).toBeLessThanOrEqual(26);
    }
  }, 60_000);
});

describe('a board that swells by 1 mm/m in a damp half-year', () => {
  const growth = (week: number) => (1e-3 * week) / 26;
  const humidity = (week: number) => 40 + (24 * week) / 26;

  it('is called board by its old marks', () => {
    for (const seed of each(SEED + 200)) {
      const [birth, ...rows] = simulateYears({ seed, weeks: 27, growth, humidity, board: 'A' });
      const old = rows.map((row) => ({ ...row, board: { ...row.board, marks: 'old' as const } }));
      const { explanation } = lookAt([birth!, ...old]);
      expect(explanation.verdict, `seed ${seed}`).toBe('board');
      expect(explanation.todo).toContain('leave steps');
      expect(explanation.todo).not.toContain('mend machine');
    }
  });

  it('is called board by marks of unknown age, where the humidity was noted', () => {
    for (const seed of each(SEED + 300)) {
      const rows = simulateYears({ seed, weeks: 27, growth, humidity, marks: 'unknown' });
      expect(lookAt(rows).explanation.verdict, `seed ${seed}`).toBe('board');
    }
  });

  it('is not told from the machine by marks of unknown age without it: then what would decide is named', () => {
    for (const seed of each(SEED + 400)) {
      const { explanation } = lookAt(simulateYears({ seed, weeks: 27, growth, marks: 'unknown' }));
      expect(explanation.verdict, `seed ${seed}`).toBe('cannot tell');
      expect(explanation.todo).toContain('fresh ladder');
      expect(explanation.todo).toContain('state marks');
    }
  });
});

describe('a machine whose scale grows by 1 mm/m', () => {
  const slopes = { 'scale.x': 1e-3 / 182, 'scale.y': 1e-3 / 182 };

  it('is called machine by fresh marks, though both scales grow and the air is damp', () => {
    const humidity = (week: number) => 40 + week;
    for (const seed of each(SEED + 500)) {
      const { explanation } = lookAt(simulateYears({ seed, weeks: 27, slopes, humidity }));
      expect(explanation.verdict, `seed ${seed}`).toBe('machine');
    }
  });

  it('beside a board that swells is called both', () => {
    for (const seed of each(SEED + 600)) {
      const fresh = simulateYears({ seed, weeks: 27, slopes });
      const old = simulateYears({
        seed: seed + 50,
        weeks: 27,
        growth: (week) => (1e-3 * week) / 26,
        marks: 'old',
        board: 'A',
      });
      const rows = fresh.flatMap((row, i) => [row, old[i]!]);
      expect(lookAt(rows).explanation.verdict, `seed ${seed}`).toBe('both');
    }
  });
});

describe('a machine that leans, marks of unknown age', () => {
  it('is called machine: no board changes its angle', () => {
    for (const seed of each(SEED + 700)) {
      const slopes = { squareness: 0.1e-3 / DAYS_PER_MONTH };
      const rows = simulateYears({ seed, weeks: 40, slopes, marks: 'unknown' });
      expect(lookAt(rows).explanation.verdict, `seed ${seed}`).toBe('machine');
    }
  });
});

describe('the interval of the date on which a limit is left', () => {
  it('holds the true date in about 95 of 100 machines', () => {
    const perDay = 0.02e-3 / DAYS_PER_MONTH;
    const noise = { squareness: { value: -0.1e-3, random: 0.03e-3, common: 0.03e-3 } };
    // From -0.1 to the limit of 0.2 mm/m; the years begin on 8 January 2024 at 10.
    const truth = Date.UTC(2024, 0, 8, 10) + (0.3e-3 / perDay) * DAY_MS;
    const dates = Array.from({ length: 100 }, (_, i) =>
      simulateYears({ seed: SEED + 800 + i, weeks: 30, slopes: { squareness: perDay }, noise }),
    ).flatMap((rows) => {
      const [machine] = lookAt(rows).series;
      const told = machine!.quantities.find(({ what }) => what === 'squareness');
      return told?.crossing?.state === 'expected' ? [told.crossing] : [];
    });
    const inside = dates.filter(
      ({ earliest, latest }) =>
        (earliest === undefined || Date.parse(earliest) <= truth) &&
        (latest === undefined || Date.parse(latest) >= truth),
    );
    expect(dates.length).toBeGreaterThan(90);
    // Fewer than 0.87 of 95 would come by chance once in 700 times.
    expect(inside.length / dates.length).toBeGreaterThan(0.87);
    expect(dates.filter(({ latest }) => latest !== undefined).length).toBeGreaterThan(80);
  });
});
