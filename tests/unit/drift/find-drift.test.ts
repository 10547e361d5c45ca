import { describe, expect, it } from 'vitest';
import { driftSchema } from '../../../shared/schemas/drift.js';
import { findDrifts } from '../../../src/drift/index.js';
import { listSeries } from '../../../src/drift/stretches.js';
import type { EventRow, HistoryRow, MeasurementRow } from '../../../src/history/index.js';
import { lookAt, simulateYears } from '../../simulation/years.js';

const ROWS = simulateYears({ seed: 11, weeks: 20 });

function event(at: string, text: string, kind: EventRow['event'] = 'repair'): EventRow {
  return { kind: 'event', id: 1000, machine: ROWS[0]!.machine, at, event: kind, text };
}

function inTime(...rows: readonly HistoryRow[]): HistoryRow[] {
  return rows.toSorted((a, b) => (a.at < b.at ? -1 : 1));
}

const MIDDLE = '2024-03-20T00:00:00.000Z';

function shifted(rows: readonly MeasurementRow[], by: number, from: string): MeasurementRow[] {
  return rows.map((row) => {
    const { squareness } = row.quantities;
    if (row.at < from || squareness?.state !== 'measured') return row;
    const moved = { ...squareness, value: squareness.value + by };
    return { ...row, quantities: { ...row.quantities, squareness: moved } };
  });
}

describe('no trend', () => {
  it('is drawn across a repair: what changed is told there', () => {
    const rows = inTime(...shifted(ROWS, 1e-3, MIDDLE), event(MIDDLE, 'belt tightened'));
    const [machine] = lookAt(rows).series;
    expect(machine!.breaks).toHaveLength(1);
    expect(machine!.from > MIDDLE).toBe(true);
    const told = machine!.breaks[0]!.changes.find(({ what }) => what === 'squareness')!;
    expect(told.changed).toBe(true);
    // 8 values on each side, σ = 0.05 mm/m: u = 0.025 mm/m; four of them.
    expect(Math.abs(told.change - 1e-3)).toBeLessThan(0.1e-3);
    const squareness = machine!.quantities.find(({ what }) => what === 'squareness');
    expect(squareness?.verdict).toBe('steady');
  });

  it('ends at a mere note', () => {
    const rows = inTime(...ROWS, event(MIDDLE, 'looked at it', 'note'));
    expect(lookAt(rows).series[0]!.breaks).toEqual([]);
  });

  it('is drawn across a change of the settings', () => {
    const rows = ROWS.map((row) => ({
      ...row,
      settings: { 'x.stepsPerMm': row.at < MIDDLE ? 320 : 320.4 },
    }));
    const [machine] = lookAt(rows).series;
    expect(machine!.breaks).toHaveLength(1);
    expect(machine!.breaks[0]).toMatchObject({
      kind: 'settings',
      because: ['x.stepsPerMm 320 → 320.4'],
    });
  });

  it('is drawn from one board in use to the next', () => {
    const rows = ROWS.map((row) => ({
      ...row,
      board: { ...row.board, id: row.at < MIDDLE ? 'A' : 'B' },
    }));
    expect(lookAt(rows).series[0]!.breaks.map(({ kind }) => kind)).toEqual(['board']);
  });

  it('ends where every board is marked once only', () => {
    const rows = ROWS.map((row, i) => ({ ...row, board: { ...row.board, id: `board ${i}` } }));
    expect(lookAt(rows).series[0]!.breaks).toEqual([]);
  });
});

describe('old marks', () => {
  const [first, ...later] = simulateYears({ seed: 3, weeks: 12, board: 'A' });
  const old = later.map((row) => ({ ...row, board: { ...row.board, marks: 'old' as const } }));

  it('make a series of their board, together with the photos from when they were new', () => {
    const series = listSeries([first!, ...old], []);
    expect(series.map(({ shows, board, rows }) => [shows, board, rows.length])).toEqual([
      ['machine', undefined, 1],
      ['board', 'A', 12],
    ]);
  });

  it('go on over a repair of the machine, and end when the board is surfaced', () => {
    const repair = event(old[4]!.at, 'belt tightened');
    const surfaced = event(old[6]!.at, 'surfaced', 'board');
    const breaks = listSeries([first!, ...old], [repair, surfaced])[1]!.breaks;
    expect(breaks.map(({ because }) => because)).toEqual([['surfaced']]);
  });
});

describe('what is told of a machine', () => {
  it('tells nothing from one measurement', () => {
    const { explanation } = lookAt(ROWS.slice(0, 1));
    expect(explanation).toEqual({ verdict: 'cannot tell', seen: [], todo: ['measure more'] });
  });

  it('keeps to its schema', () => {
    const rows = inTime(...shifted(ROWS, 1e-3, MIDDLE), event(MIDDLE, 'belt tightened'));
    const whole = {
      schema: 'gantrue/drift/1',
      tool: { name: 'gantrue', version: '1' },
      asOf: MIDDLE,
      machines: [lookAt(rows)],
    };
    expect(driftSchema.parse(whole)).toEqual(whole);
  });

  it('leaves weak and undetermined values out and counts them', () => {
    const rows = ROWS.map((row, i) => {
      const { squareness } = row.quantities;
      if (squareness?.state !== 'measured' || i > 2) return row;
      const weaker =
        i === 0 ? { state: 'undetermined' as const } : { ...squareness, state: 'weak' as const };
      return { ...row, quantities: { ...row.quantities, squareness: weaker } };
    });
    const told = lookAt(rows).series[0]!.quantities.find(({ what }) => what === 'squareness');
    expect(told).toMatchObject({ values: 17, leftOut: 3 });
  });

  it('names events that nothing was measured after', () => {
    const rows = inTime(...ROWS, event('2025-01-01T00:00:00.000Z', 'crashed', 'crash'));
    expect(lookAt(rows).unmeasured).toEqual([{ at: '2025-01-01T00:00:00.000Z', text: 'crashed' }]);
  });

  it('ranks the one outside its limit before the one that is old news, and the calm one last', () => {
    const of = (machine: string, rows: readonly MeasurementRow[]) =>
      rows.map((row) => ({ ...row, machine }));
    const calm = of('calm', ROWS);
    const outside = of('outside', shifted(ROWS, 2e-3, ''));
    const stale = of(
      'stale',
      ROWS.map((row) => ({ ...row, at: row.at.replace('2024', '2022') })),
    );
    const drifts = findDrifts([...stale, ...calm, ...outside], { asOf: new Date(ROWS.at(-1)!.at) });
    expect(drifts.map(({ machine, reason }) => [machine, reason.kind])).toEqual([
      ['outside', 'outside'],
      ['stale', 'stale'],
      ['calm', 'calm'],
    ]);
  });

  it('joins neighbours where there are thousands, and finds the same slope', () => {
    const rows = simulateYears({ seed: 4, weeks: 2200, slopes: { squareness: 1e-7 } });
    const told = lookAt(rows).series[0]!.quantities.find(({ what }) => what === 'squareness')!;
    expect(told.joined).toBe(8);
    expect(told.values).toBe(2200);
    expect(told.verdict).toBe('drifts');
    // σ = 0.05 mm/m over 2200 weeks: slope known to 2.4e-10 a day, a quarter of a per cent; four of them.
    expect(Math.abs(told.trend!.perMonth / (1e-7 * (365.2425 / 12)) - 1)).toBeLessThan(0.01);
  });
});
