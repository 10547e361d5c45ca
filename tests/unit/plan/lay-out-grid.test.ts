import { describe, expect, it } from 'vitest';
import type { PlannedMark } from '../../../src/plan/index.js';
import { layOutGrid } from '../../../src/plan/index.js';
import { BENCH, INSERTS, marksOf, plan } from './plan-choices.js';

const isAtX = ({ from, to }: PlannedMark) => from[0] === to[0];
const isAtY = ({ from, to }: PlannedMark) => from[1] === to[1];

describe('the lines of a laid-out grid', () => {
  // 400 mm less 25 mm at either end hold 350 = 7 times 50 mm; 300 mm hold 5 times.
  const bench = plan();
  const lines = marksOf(bench, 'line', 'again');

  it('stand at multiples of the spacing, the first ones through zero', () => {
    const places = (axis: 0 | 1) => [
      ...new Set(lines.filter(axis === 0 ? isAtX : isAtY).map(({ from }) => from[axis])),
    ];
    expect(places(0).sort((a, b) => a - b)).toEqual([0, 50, 100, 150, 200, 250, 300, 350]);
    expect(places(1).sort((a, b) => a - b)).toEqual([0, 50, 100, 150, 200, 250]);
  });

  it('leave what is over at both ends, in whole mm at the low one', () => {
    // 415 mm: 350 mm of grid, 65 mm over, half of it 32.5.
    const { x } = plan({ travelMm: [415, 300] }).layout;
    expect([x.low, x.high]).toEqual([-32, 383]);
  });

  it('are reached from both sides, the other way round on the next line', () => {
    const senses = [50, 100, 150].map((x) =>
      lines.filter((mark) => isAtX(mark) && mark.from[0] === x).map(({ sense }) => sense),
    );
    expect(senses).toEqual([
      [-1, 1],
      [1, -1],
      [-1, 1],
    ]);
  });

  it('are all marked in one direction', () => {
    for (const { from, to } of lines) expect(to[0] + to[1]).toBeGreaterThan(from[0] + from[1]);
  });

  it('go out on even lines and come back on odd ones', () => {
    const order = marksOf(bench, 'line')
      .filter(isAtX)
      .map(({ from }) => from[0] / 50);
    expect(order.filter((line, i) => line !== order[i - 1])).toEqual([0, 2, 4, 6, 7, 5, 3, 1]);
  });

  it('cover the whole of the first line once, parts of it at the very end', () => {
    const last = bench.marks.slice(-marksOf(bench, 'again').length);
    expect(last.every(({ kind }) => kind === 'again')).toBe(true);
    const first = lines
      .filter((mark) => isAtX(mark) && mark.from[0] === 0)
      .map(({ from, to, kind }) => [from[1], to[1], kind] as const)
      .sort((a, b) => a[0] - b[0]);
    // Six crossings, overhang 6; the halves meet in the middle of the third cell; cells 2 and 5 wait.
    expect(first).toEqual([
      [-6, 50, 'line'],
      [50, 100, 'again'],
      [100, 125, 'line'],
      [125, 200, 'line'],
      [200, 250, 'again'],
      [250, 256, 'line'],
    ]);
  });

  it('are marked again from the side of the half they belong to', () => {
    const again = marksOf(bench, 'again').filter(isAtX);
    expect(again.map(({ sense }) => sense)).toEqual([1, -1]);
  });
});

describe('ladders', () => {
  const rungsAtX = (choices: Parameters<typeof plan>[0]) =>
    marksOf(plan(choices), 'rung')
      .filter(isAtX)
      .map(({ from }) => from[0]);

  /** Largest stretch of a turn, in turns, in which no rung meets the drive. */
  const widestGap = (places: readonly number[], period: number) => {
    const phases = places.map((place) => (place / period) % 1).sort((a, b) => a - b);
    return Math.max(...phases.map((phase, i) => (phases[i + 1] ?? phases[0]! + 1) - phase));
  };

  it.each([2, 5, 8, 10, 25.4, 40, 62.832, 94.248])(
    'meet a period of %d mm in every quarter of a turn, and half of it in every third',
    (period) => {
      const rungs = rungsAtX({ travelMm: [900, 600], periodsMm: { x: period } });
      expect(widestGap(rungs, period)).toBeLessThan(0.25);
      expect(widestGap(rungs, period / 2)).toBeLessThan(0.34);
    },
  );

  it('meet the usual periods in every third of a turn where none is stated', () => {
    const rungs = rungsAtX({ travelMm: [900, 600] });
    for (const period of [2, 4, 5, 8, 10, 12, 32, 40, 48, 62.832, 78.54, 94.248]) {
      expect(widestGap(rungs, period)).toBeLessThan(0.34);
    }
  });

  it('keep clear of the lines by 15 hundredths of the spacing', () => {
    for (const x of rungsAtX({ travelMm: [900, 600] })) {
      const off = Math.abs(x - 50 * Math.round(x / 50));
      expect(off).toBeGreaterThanOrEqual(7.5 - 1e-9);
    }
  });

  it('never cross each other', () => {
    const rungs = marksOf(plan({ travelMm: [900, 600] }), 'rung');
    for (const a of rungs.filter(isAtX)) {
      for (const b of rungs.filter(isAtY)) {
        const crosses =
          a.from[0] > b.from[0] &&
          a.from[0] < b.to[0] &&
          b.from[1] > a.from[1] &&
          b.from[1] < a.to[1];
        expect(crosses).toBe(false);
      }
    }
  });
});

describe('the origin mark', () => {
  it('is its own picture under no turn and no mirror', () => {
    for (const placement of ['only', 'second'] as const) {
      const marks = marksOf(plan({}, placement), 'origin');
      const { spacing, x, y } = plan({}, placement).layout;
      const centre = [
        x.first + ((x.lines - 1) * spacing) / 2,
        y.first + ((y.lines - 1) * spacing) / 2,
      ];
      const ends = (map: (u: number, v: number) => [number, number]) =>
        marks
          .map(({ from, to }) =>
            [from, to]
              .map(([u, v]) =>
                map(u - centre[0]!, v - centre[1]!)
                  .map((value) => value.toFixed(3))
                  .join(),
              )
              .sort()
              .join(' '),
          )
          .sort();
      const own = ends((u, v) => [u, v]);
      const others: ((u: number, v: number) => [number, number])[] = [
        (u, v) => [-v, u],
        (u, v) => [-u, -v],
        (u, v) => [v, -u],
        (u, v) => [-u, v],
        (u, v) => [u, -v],
        (u, v) => [v, u],
        (u, v) => [-v, -u],
      ];
      for (const map of others) expect(ends(map)).not.toEqual(own);
    }
  });

  it('keeps its shape apart from that of its mirror image: the leg along X is the longer one', () => {
    const [alongX, alongY] = marksOf(plan(), 'origin');
    expect([alongX!.from, alongX!.to]).toEqual([
      [10, 10],
      [40, 10],
    ]);
    expect([alongY!.from, alongY!.to]).toEqual([
      [10, 10],
      [10, 30],
    ]);
  });
});

describe('cell codes', () => {
  it('count columns and rows in binary from the left', () => {
    const codes = marksOf(plan({ travelMm: [900, 600], cellCodes: true }), 'code');
    // The cell of column 5, row 2, both from 1, begins at X200 Y50: ticks at 10 + 6 bit.
    const inCell = codes.filter(
      ({ from }) => from[0] > 200 && from[0] < 250 && from[1] > 50 && from[1] < 100,
    );
    // 5 = 1 + 4, 2 = 2.
    expect(inCell.map(({ from }) => from)).toEqual([
      [210, 61],
      [222, 61],
      [216, 81],
    ]);
    expect(inCell.every(({ to, from }) => to[1] - from[1] === 4)).toBe(true);
  });

  it('differ from cell to cell', () => {
    const one = plan({ travelMm: [2500, 1250], cellCodes: true });
    const cells = new Map<string, string>();
    for (const { from } of marksOf(one, 'code')) {
      const cell = `${Math.floor(from[0] / 50)} ${Math.floor(from[1] / 50)}`;
      cells.set(
        cell,
        `${cells.get(cell) ?? ''} ${(from[0] % 50).toFixed(2)} ${(from[1] % 50).toFixed(2)}`,
      );
    }
    expect(cells.size).toBeGreaterThan(80);
    expect(new Set(cells.values()).size).toBe(cells.size);
  });
});

describe('insert holes', () => {
  const bench = plan({ inserts: INSERTS });

  it('stand on every second crossing and spare the outermost lines', () => {
    expect(bench.holes.map(({ centre }) => centre)).toEqual([
      [50, 50],
      [150, 50],
      [250, 50],
      [50, 150],
      [150, 150],
      [250, 150],
    ]);
  });

  it('are cleared from the inside out without leaving an island', () => {
    // A tool of 6 mm in a counterbore of 14 mm: paths of up to 4 mm, at most 2.4 mm apart.
    expect(bench.holes[0]!.rings).toEqual([
      { radius: 2, fromDepth: 0, toDepth: 4, turns: 2 },
      { radius: 4, fromDepth: 0, toDepth: 4, turns: 2 },
      // The hole of 8 mm goes on below it: 12 mm in passes of 2 mm.
      { radius: 1, fromDepth: 4, toDepth: 16, turns: 6 },
    ]);
  });

  it('of the tool’s own diameter are drilled straight down', () => {
    const { holes } = plan({ inserts: { ...INSERTS, holeDiameterMm: 6 } });
    expect(holes[0]!.rings.at(-1)).toEqual({ radius: 0, fromDepth: 4, toDepth: 16, turns: 6 });
  });
});

describe('a pair for a turned board', () => {
  const [first, second] = [plan({ turned: true }, 'first'), plan({ turned: true }, 'second')];

  it('is square, with the second grid half a spacing off about one centre', () => {
    expect([first.layout.x.lines, first.layout.y.lines]).toEqual([6, 6]);
    expect([second.layout.x.lines, second.layout.y.lines]).toEqual([5, 5]);
    expect([second.layout.x.first, second.layout.y.first]).toEqual([25, 25]);
    const centre = ({ layout: { x, spacing } }: typeof first) =>
      x.first + ((x.lines - 1) * spacing) / 2;
    expect(centre(first)).toBe(125);
    expect(centre(second)).toBe(125);
  });

  it('keeps one zero', () => {
    expect(second.layout.x.low).toBe(first.layout.x.low);
    expect(second.layout.y.low).toBe(first.layout.y.low);
  });

  it('marks the centre on the first grid alone, and no outline', () => {
    expect(marksOf(first, 'centre').length).toBe(2);
    expect(marksOf(second, 'centre').length).toBe(0);
    expect(marksOf(first, 'outline').length + marksOf(second, 'outline').length).toBe(0);
  });
});

describe('choices that do not go together are refused by the name of the option', () => {
  it.each([
    ['--spacing', { spacingMm: 19 }],
    ['--spacing', { spacingMm: 70 }],
    ['--spacing', { travelMm: [90000, 300] }],
    ['--margin', { marginMm: 15 }],
    ['--travel', { travelMm: [Number.NaN, 300] }],
    ['--feed', { feedMmPerMin: 0 }],
    ['--hole', { inserts: { ...INSERTS, holeDiameterMm: 5 } }],
    ['--counterbore', { inserts: { ...INSERTS, counterbore: { diameterMm: 8, depthMm: 4 } } }],
    ['--counterbore', { inserts: { ...INSERTS, counterbore: { diameterMm: 14, depthMm: 16 } } }],
    ['--insert-every', { inserts: { ...INSERTS, every: 1.5 } }],
    ['--spacing', { inserts: { ...INSERTS, counterbore: { diameterMm: 26, depthMm: 4 } } }],
  ] as const)('%s', (option, choices) => {
    const refused = layOutGrid({ ...BENCH, ...choices });
    expect(refused.ok).toBe(false);
    if (refused.ok) return;
    expect(refused.failure.code).toBe('WRONG_CALL');
    expect(refused.failure.message.startsWith(`${option}: `)).toBe(true);
  });
});

describe('fresh marks beside an old grid', () => {
  it('lie midway between its lines, one line fewer each way, also on a bed that is no square', () => {
    const old = plan({}, 'only').layout;
    const fresh = plan({}, 'fresh').layout;
    for (const axis of ['x', 'y'] as const) {
      expect(fresh[axis].lines).toBe(old[axis].lines - 1);
      expect(fresh[axis].first).toBe(old.spacing / 2);
      expect(fresh[axis].low).toBe(old[axis].low);
    }
    expect(fresh.x.lines).not.toBe(fresh.y.lines);
  });
});
