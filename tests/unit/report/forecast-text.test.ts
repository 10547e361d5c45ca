import { describe, expect, it } from 'vitest';
import type { Forecast, ForecastQuantity } from '../../../shared/schemas/forecast.js';
import { forecastText, type Units } from '../../../src/report/index.js';

const SHARE = { photos: 0.02, marks: 0.18, evidence: 0, camera: 0.8 };

function measured(what: ForecastQuantity['what'], U: number, unlucky = U): ForecastQuantity {
  return {
    what,
    state: 'measured',
    unit: 'rad',
    k: 2,
    U,
    share: SHARE,
    unlucky: { state: 'measured', U: unlucky },
  };
}

function open(what: ForecastQuantity['what'], reason: string): ForecastQuantity {
  return {
    what,
    state: 'undetermined',
    unit: '1',
    k: 2,
    reason,
    add: ['tape one distance'],
    unlucky: { state: 'undetermined' },
  };
}

const FORECAST: Forecast = {
  schema: 'gantrue/forecast/1',
  tool: { name: 'gantrue', version: '1.2.3' },
  program: 'grid.ngc',
  grid: { linesAtX: 18, linesAtY: 12, width: 863.6, height: 558.8 },
  gantryAxis: 'none',
  periods: {},
  camera: { widthPx: 4000, heightPx: 3000, focalLengthPx: 3005, focalLengthKnown: true },
  photos: [{ kind: 'overhead', count: 8, tiltRad: Math.PI / 90 }],
  fill: 0.86,
  mmPerPx: 0.25,
  assumed: { sigmaPixel: 0.01, sigmaMark: 0.012, straightness: 0.005, lines: 0.012, board: 0.1 },
  evidence: [],
  quantities: [
    measured('squareness', 1.44e-4, 1.92e-4),
    open('scale.x', 'no known length'),
    open('scale.y', 'no known length'),
    measured('lostMotion.x', 2.5e-3),
    measured('racking', 1e-4),
    open('periodic.x', 'no period'),
    open('drift.x', 'nothing marked again'),
  ],
  findings: [{ code: 'SOME_DOUBT', message: 'strokes overlap' }],
};

function shown(changes: Partial<Forecast> = {}, units: Units = 'mm', width = 90): string {
  return forecastText({ ...FORECAST, ...changes }, { units, colour: false, width });
}

function flat(text: string): string {
  return text.replace(/\s+/g, ' ');
}

describe('a forecast in words', () => {
  it('gives U to two digits, what bad luck makes of it, and its sources', () => {
    expect(shown()).toMatch(
      /^squareness +U 0\.14 mm\/m \(0\.19 mm\/m\) +camera 80 %, marks 18 %$/m,
    );
    expect(shown()).toMatch(/^lost motion X +U 0\.0025 mm +camera/m);
  });

  it('gives inch per foot and inches where asked', () => {
    // 0.144 mm/m are 0.00173 inch on a foot; 863.6 mm are 34 inches.
    expect(shown({}, 'in')).toMatch(/^squareness +U 0\.0017 in\/ft/m);
    expect(shown({}, 'in')).toContain('18 × 12 lines over 34 in × 22 in');
  });

  it('tells a shared reason once, and hides what nobody asked for', () => {
    expect(flat(shown())).toContain('scale Y undetermined for the same reason as scale X');
    expect(shown()).not.toMatch(/periodic|drift|racking/);
    const want = { asked: [{ what: 'drift.x' as const, unit: 'mm' as const, U: 0.01 }], tried: [] };
    expect(shown({ want })).toMatch(/^drift X +undetermined/m);
    expect(shown({ periods: { x: 5 } })).toMatch(/^periodic X +undetermined/m);
    expect(shown({ gantryAxis: 'x' })).toMatch(/^racking +U/m);
  });

  it('names a state that hangs on luck', () => {
    const quantity = {
      ...measured('squareness', 3e-4),
      unlucky: { state: 'weak' as const, U: 6e-4 },
    };
    expect(shown({ quantities: [quantity] })).toContain('U 0.30 mm/m (weak)');
  });

  it('lists what was tried and marks the cheapest, not by colour alone', () => {
    const tried = [1, 4].map((count, i) => ({
      photos: [{ kind: 'overhead' as const, count, tiltRad: Math.PI / 90 }],
      lengths: i === 0 ? [] : ['length (0, 0) to (850, 0)'],
      minutes: 3 * count,
      reached: i === 1,
      U: [i === 0 ? null : 2.2e-4],
    }));
    const asked = [{ what: 'squareness' as const, unit: 'rad' as const, U: 3e-4 }];
    const text = shown({ want: { asked, tried, cheapest: 1 } });
    expect(text).toContain('Wanted: squareness ± 0.30 mm/m');
    expect(text).toMatch(/^ +3 min {2}1 photo within about 2°: squareness not measured$/m);
    expect(text).toMatch(
      /^=> +12 min {2}4 photos within about 2°, 1 taped: squareness ± 0\.22 mm\/m$/m,
    );
  });

  it('says what stands in the way where no set does', () => {
    const asked = [{ what: 'lostMotion.x' as const, unit: 'mm' as const, U: 1e-4 }];
    const limit = { what: 'lostMotion.x' as const, U: 2e-3, source: 'marks' as const, share: 0.97 };
    const text = flat(shown({ want: { asked, tried: [], limit } }));
    expect(text).toContain('no set of photos reaches what is wanted');
    expect(text).toContain(
      'lost motion X comes to ± 0.0020 mm at best: 97 % of its variance is the wander',
    );
  });

  it('ends with the doubts about the program', () => {
    expect(shown()).toMatch(/\nDoubts:\n {2}\? strokes overlap \[SOME_DOUBT\]\n$/);
  });

  it('keeps within the width', () => {
    for (const width of [60, 80, 100]) {
      for (const line of shown({}, 'mm', width).split('\n')) {
        expect(line.length, line).toBeLessThanOrEqual(width);
      }
    }
  });
});
