import { describe, expect, it } from 'vitest';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import { reportHtml, summaryText } from '../../../src/report/index.js';
import { oneMoreTexts } from '../../../src/report/one-more-text.js';
import { makeMeasurement } from './make-measurement.js';

type OneMore = NonNullable<NonNullable<Measurement['adjustment']>['oneMore']>;

function withMore(oneMore: OneMore): Measurement {
  const measurement = makeMeasurement();
  return { ...measurement, adjustment: { ...measurement.adjustment!, oneMore } };
}

const LEFT = 'like p3.jpg, the phone turned a quarter turn to the left';
const GAIN: OneMore[number] = {
  quantity: 'squareness',
  photo: LEFT,
  state: 'measured',
  U: { from: 2.1e-4, to: 1.5e-4 },
};

describe('one more photo in words', () => {
  it('is told once where it serves both quantities', () => {
    const ratio = { ...GAIN, quantity: 'scale.ratio' as const };
    expect(oneMoreTexts(withMore([GAIN, ratio]), 'mm')).toEqual([
      `one more photo ${LEFT}: squareness ± 0.21 mm/m → ± 0.15 mm/m, scale X : Y ± 0.21 mm/m → ± 0.15 mm/m`,
    ]);
  });

  it('is not worth a word below a tenth', () => {
    expect(oneMoreTexts(withMore([{ ...GAIN, U: { from: 2e-4, to: 1.85e-4 } }]), 'mm')).toEqual([]);
    expect(
      oneMoreTexts(withMore([{ ...GAIN, U: { from: 2e-4, to: 1.75e-4 } }]), 'mm'),
    ).toHaveLength(1);
    expect(oneMoreTexts(makeMeasurement(), 'mm')).toEqual([]);
  });

  it('says what an undetermined quantity would come to', () => {
    const [text] = oneMoreTexts(withMore([{ ...GAIN, U: { to: 4.6e-4 }, state: 'weak' }]), 'mm');
    expect(text).toBe(`one more photo ${LEFT}: squareness would be weakly known to ± 0.46 mm/m`);
  });

  it('stands in the summary and in the report', () => {
    const measurement = withMore([GAIN]);
    const summary = summaryText(measurement, { units: 'mm', colour: false, width: 100 });
    expect(summary.replace(/\s+/g, ' ')).toContain(`one more photo ${LEFT}: squareness ± 0.21`);
    expect(reportHtml(measurement, [])).toContain(`<p>one more photo ${LEFT}: squareness ± 0.21`);
  });
});
