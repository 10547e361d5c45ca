/** Words for the way a result came about, for fresh marks, and a result in one paragraph. */
import { describe, expect, it } from 'vitest';
import type { FreshRecord, Measurement } from '../../../shared/schemas/measurement.js';
import { briefText, reportHtml, summaryText } from '../../../src/report/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from './make-measurement.js';

const PLAIN = { units: 'mm', colour: false, width: 100 } as const;

/** Lines of a terminal as running text. */
const flat = (text: string) => text.replace(/\s+/g, ' ');

const OWN = {
  squareness: estimate(0.42e-3, 0.02e-3, 'rad'),
  ratio: estimate(0.8e-3, 0.03e-3, '1'),
};

function turned(other: Partial<typeof OWN> = {}): Measurement {
  const photos = {
    squareness: estimate(0.5e-3, 0.15e-3, 'rad'),
    ratio: estimate(0.7e-3, 0.12e-3, '1'),
    ...other,
  };
  return makeMeasurement({
    methods: [
      { method: 'turned board', used: true, ...OWN },
      { method: 'photos', used: false, ...photos },
    ],
  });
}

describe('the way a result came about', () => {
  it('is told with what the other way says, and with En', () => {
    const text = flat(summaryText(turned(), PLAIN));
    expect(text).toContain('nothing is believed of the camera');
    // 0.08 / √(0.02² + 0.15²) = 0.53; 0.1 / √(0.03² + 0.12²) = 0.81
    expect(text).toContain(
      'the photos of the first grid alone: squareness 0.50 ± 0.15 mm/m, En 0.53; scale X : Y 0.70 ± 0.12 mm/m, En 0.81',
    );
  });

  it('says where the other way tells nothing', () => {
    const text = summaryText(turned({ squareness: UNDETERMINED as never }), PLAIN);
    expect(flat(text)).toContain('squareness undetermined; scale X : Y 0.70');
  });

  it('needs no words where photos are the only way, but stands in the report', () => {
    const only = makeMeasurement({ methods: [{ method: 'photos', used: true, ...OWN }] });
    expect(summaryText(only, PLAIN)).not.toContain('rest on');
    expect(reportHtml(only, [])).toContain('rest on photos of one grid');
  });
});

describe('fresh marks beside old ones', () => {
  const none = estimate(0.01e-3, 0.05e-3, 'rad');
  const fresh: FreshRecord = {
    squareness: none,
    scale: { x: estimate(-1e-3, 0.07e-3, '1'), y: estimate(-0.9e-3, 0.07e-3, '1'), ratio: none },
    lostMotion: { x: estimate(0, 0.01, 'mm'), y: estimate(0, 0.01, 'mm') },
    racking: UNDETERMINED,
    explainedBy: 'board',
  };

  it('are told quantity by quantity with what bears the change, in terminal and report', () => {
    const measurement = makeMeasurement({ fresh });
    for (const text of [flat(summaryText(measurement, PLAIN)), reportHtml(measurement, [])]) {
      expect(text).toContain('scale X −1.000 ± 0.070 mm/m');
      expect(text).toContain('racking undetermined');
      expect(text).toContain('a board does that swells or shrinks');
    }
  });

  it('are not spoken of where there are none', () => {
    expect(summaryText(makeMeasurement(), PLAIN)).not.toContain('fresh marks');
  });
});

describe('a result in one paragraph', () => {
  it('names what was asked, in capitals where it is outside', () => {
    const measurement = makeMeasurement({
      verdicts: [
        { what: 'squareness', limit: 0.2, unit: 'mm/m', verdict: 'outside', why: 'over it' },
      ],
      scale: { ...makeMeasurement().scale, ratio: UNDETERMINED },
    });
    expect(flat(briefText(measurement, PLAIN, ['squareness', 'scale.ratio'])).trim()).toMatch(
      /^Test router: squareness 0\.850 ± 0\.060 mm\/m OUTSIDE; scale X : Y undetermined; \d+ of \d+ photos$/,
    );
  });

  it('passes over what nothing tells where nothing was asked for', () => {
    const measurement = makeMeasurement({ squareness: UNDETERMINED });
    expect(briefText(measurement, PLAIN)).not.toContain('squareness');
  });
});
