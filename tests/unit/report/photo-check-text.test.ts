import { describe, expect, it } from 'vitest';
import type { PhotoCheck } from '../../../shared/schemas/photo-check.js';
import { photoCheckText, reportHtml, summaryText } from '../../../src/report/index.js';
import { makeMeasurement } from './make-measurement.js';

const FAINT = 'marks too faint: rub chalk into them';

const CHECK: PhotoCheck = {
  schema: 'gantrue/photo-check/1',
  tool: { name: 'gantrue', version: '0.1.0' },
  checkedAt: '2026-11-20T10:30:00.000Z',
  program: 'bed-grid.ngc',
  photos: [
    {
      file: 'one.jpg',
      used: true,
      verdict: {
        state: 'good',
        advice: [],
        marks: [
          { axis: 'x', contrast: 0.42, widthPx: 3.2, edgePx: 3.3 },
          { axis: 'y', contrast: 0.4, widthPx: 3.2, edgePx: 3.42 },
        ],
        missing: [
          { light: 'bright', share: 0.02, where: ['top'] },
          { light: 'normal', share: 0.03, where: [] },
        ],
        coverage: { inPicture: 0.98, width: 0.9, height: 0.8, cut: [], mmPerPx: 0.25 },
        view: { tiltRad: Math.PI / 90, rollRad: 0 },
      },
    },
    {
      file: 'a-photo-with-quite-a-long-name-2026.jpg',
      used: true,
      verdict: { state: 'poor', advice: [{ about: 'contrast', state: 'poor', text: FAINT }] },
    },
    {
      file: 'three.jpg',
      used: false,
      code: 'GRID_NOT_FOUND',
      reason: 'no grid',
      verdict: {
        state: 'unusable',
        advice: [{ about: 'grid', state: 'unusable', text: 'no grid' }],
      },
    },
  ],
  set: {
    state: 'not enough',
    usable: 2,
    advice: [
      { about: 'number', needed: true, text: 'too few: take eight' },
      { about: 'lens', needed: false, text: 'give the original files' },
    ],
  },
  findings: [{ code: 'PROGRAM_END_MISSING', message: 'no end', hint: 'cut short?' }],
};

function show(check: PhotoCheck = CHECK, width = 90, colour = false): string {
  return photoCheckText(check, { units: 'mm', colour, width });
}

describe('the text of a check of photos', () => {
  it('begins with how many can be used and what the set is worth', () => {
    expect(show().split('\n')[0]).toBe(
      'bed-grid.ngc: 2 of 3 photos can be used; the set is NOT ENOUGH',
    );
  });

  it('has the figures that decide beside each photo, the worse of two families', () => {
    expect(show().replace(/\s+/g, ' ')).toContain(
      'good edges 3.4 px, contrast 40 %, marks 95 %, grid 98 %, tilt 2.0°',
    );
  });

  it('has state, code and advice of photos that are not good', () => {
    expect(show()).toMatch(/a-photo-with-quite-a-long-name-2026\.jpg {2}POOR\n {4}marks too faint/);
    expect(show()).toMatch(/three\.jpg +UNUSABLE +\[GRID_NOT_FOUND\]\n {4}no grid/);
  });

  it('tells what the set needs from what would be better, then doubts', () => {
    expect(show()).toContain('The set:\n  ! too few: take eight\n  - give the original files\n');
    expect(show()).toContain('Doubts:\n  ? no end [PROGRAM_END_MISSING]; cut short?\n');
  });

  it('keeps within its width, and has colours only where wanted', () => {
    const longest = Math.max(
      ...show(CHECK, 60)
        .split('\n')
        .map((line) => line.length),
    );
    expect(longest).toBeLessThanOrEqual(60);
    expect(show()).not.toContain('\u001b[');
    expect(show(CHECK, 90, true)).toContain('\u001b[');
  });
});

describe('a measurement with verdicts', () => {
  const measurement = makeMeasurement();
  measurement.photos[0] = { ...measurement.photos[0]!, verdict: CHECK.photos[1]!.verdict! };

  it('names in the summary the photos that could be better, and no others', () => {
    const options = { units: 'mm', colour: false, width: 90 } as const;
    expect(summaryText(measurement, options)).toContain(`photos/photo-1.jpg is poor: ${FAINT}`);
    measurement.photos[0]!.verdict = CHECK.photos[0]!.verdict!;
    expect(summaryText(measurement, options)).not.toContain('photo-1.jpg is');
    measurement.photos[0]!.verdict = CHECK.photos[1]!.verdict!;
  });

  it('has state and advice in the report', () => {
    expect(reportHtml(measurement, [])).toContain(`<td>poor<ul><li>${FAINT}</li></ul></td>`);
  });
});
