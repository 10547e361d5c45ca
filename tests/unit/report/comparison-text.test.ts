import { describe, expect, it } from 'vitest';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import { compareMeasurements } from '../../../src/comparison/index.js';
import { judge, propose } from '../../../src/correction/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { comparisonText, type Units } from '../../../src/report/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from './make-measurement.js';

function judged(changes: Partial<Measurement>): Measurement {
  const measurement = makeMeasurement(changes);
  return {
    ...measurement,
    verdicts: judge(measurement, undefined),
    proposals: propose(measurement, undefined, undefined),
  };
}

/** Squareness doubled, lost motion of Y gone, scale X not told; the rest as it was. */
const AFTER = judged({
  measuredAt: '2026-11-24T10:30:00.000Z',
  photos: [],
  squareness: estimate(1.69e-3, 0.08e-3, 'rad'),
  lostMotion: { x: estimate(0.02, 0.004, 'mm'), y: estimate(0.004, 0.006, 'mm') },
  scale: { ...makeMeasurement().scale, x: UNDETERMINED },
});

function text(after = AFTER, units: Units = 'mm', width = 100, colour = false): string {
  const files = [judged({}), after].map((measurement, i) => ({ file: `${i}.json`, measurement }));
  const comparison = unwrap(compareMeasurements(files[0]!, files[1]!));
  return comparisonText(comparison, { units, colour, width });
}

/** Line breaks are layout. */
function flat(of: string): string {
  return of.replace(/\s+/g, ' ');
}

describe('the comparison', () => {
  it('begins with what went wrong, and with both files and their days', () => {
    const told = flat(text());
    expect(told).toMatch(
      /^Test router: 1 moved the wrong way, 1 did what was proposed, 6 unchanged, 1 cannot be told/,
    );
    expect(told).toContain('before: 0.json (2026-11-20); after: 1.json (2026-11-24)');
  });

  it('shows before, after, change with U and En, what was proposed, and the verdict', () => {
    // U of the change: 0.06 and 0.08 make 0.10; 0.84 / 0.10; 0.84 + 0.85 = 1.69.
    const told = flat(text());
    expect(told).toContain(
      'squareness 0.850 ± 0.060 → 1.690 ± 0.080 mm/m; now OUTSIDE, limit 0.2 mm/m MOVED THE WRONG WAY change +0.84 ± 0.10 mm/m (En 8.4); proposed −0.85 mm/m (En against it 17)',
    );
    expect(told).toContain('sign or side swapped');
    // U: 0.006 twice make 0.0085; 0.136 / 0.0085 = 16; 0.004 / 0.0085 = 0.5.
    expect(told).toContain(
      'lost motion Y 0.1400 ± 0.0060 → 0.0040 ± 0.0060 mm; now inside, limit 0.05 mm did what was proposed change −0.1360 ± 0.0085 mm (En 16); proposed −0.1400 mm (En against it 0.5)',
    );
  });

  it('says why something cannot be told and what to add, and shows no change then', () => {
    expect(flat(text())).toContain(
      'scale X 1.30 ± 0.22 mm/m → undetermined cannot tell undetermined after: no known length: a photo shows shapes, not sizes tape one distance between two crossings scale Y',
    );
  });

  it('tells a reason that all share once', () => {
    const told = flat(text({ ...AFTER, marked: '2026-11-01' }));
    expect(told.match(/old marks cannot show a correction: mark fresh lines/g)).toHaveLength(1);
    expect(told.match(/for the same reason as squareness/g)).toHaveLength(8);
    expect(told).toContain('[OLD_MARKS]; mark fresh lines with the corrected machine');
  });

  it('is shown in inch per foot', () => {
    // 0.84 mm/m are 0.84e-3 · 12 = 0.01008 in/ft; U 0.0012.
    expect(flat(text(AFTER, 'in'))).toContain('change +0.0101 ± 0.0012 in/ft');
  });

  it('keeps within the width, and colours only where asked', () => {
    for (const line of text(AFTER, 'mm', 60).split('\n')) {
      expect(line.length, line).toBeLessThanOrEqual(60);
    }
    expect(text()).not.toContain('\u001b');
    expect(text(AFTER, 'mm', 100, true)).toContain('\u001b[31mMOVED THE WRONG WAY');
  });
});
