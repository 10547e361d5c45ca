import { describe, expect, it } from 'vitest';
import type { MachineFile } from '../../../shared/schemas/machine.js';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import { judge, propose } from '../../../src/correction/index.js';
import { summaryText, type Units } from '../../../src/report/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from './make-measurement.js';

const MACHINE: MachineFile = {
  gantryAxis: 'y',
  homing: { y: '-' },
  axes: {
    x: { drive: 'screw', stepsPerMm: 320 },
    y: { drive: 'rack', stepsPerMm: 84.883, drives: 2, driveSpacing: 940 },
  },
};

function judged(changes: Partial<Measurement> = {}): Measurement {
  const measurement = makeMeasurement(changes);
  const verdicts = judge(measurement, MACHINE);
  return { ...measurement, verdicts, proposals: propose(measurement, MACHINE, undefined) };
}

function summary(changes: Partial<Measurement> = {}, units: Units = 'mm', width = 90): string {
  return summaryText(judged(changes), { units, colour: false, width });
}

/** Line breaks are layout. */
function flat(text: string): string {
  return text.replace(/\s+/g, ' ');
}

describe('the summary', () => {
  it('says value, uncertainty, way, amount and verdict of squareness', () => {
    const text = flat(summary());
    expect(text).toContain('squareness 0.850 ± 0.060 mm/m OUTSIDE, limit 0.2 mm/m');
    expect(text).toContain('the Y axis leans toward +X: 0.850 mm over 1000 mm');
  });

  it('turns the words with the sign', () => {
    const text = flat(
      summary({
        squareness: estimate(-0.85e-3, 0.06e-3, 'rad'),
        lostMotion: { x: estimate(-0.12, 0.01, 'mm'), y: estimate(0.14, 0.01, 'mm') },
        scale: {
          x: estimate(1.3e-3, 0.2e-3, '1'),
          y: estimate(-2e-3, 0.2e-3, '1'),
          ratio: estimate(-1e-3, 0.1e-3, '1'),
        },
      }),
    );
    expect(text).toContain('the Y axis leans toward −X: 0.850 mm');
    expect(text).toContain('X goes 0.120 mm too far: its setting compensates too much');
    expect(text).toContain('Y stays 0.140 mm behind the command');
    expect(text).toContain('X travels too far: 1.30 mm over 1000 mm');
    expect(text).toContain('Y travels too short: 2.00 mm over 1000 mm');
    expect(text).toContain('X travels shorter than Y');
    expect(text).toContain('bring the −X side toward −Y by 0.799 ± 0.056 mm');
  });

  it('shows slopes as inch per foot and lengths as inch where asked', () => {
    // 0.85 mm/m × 12 in/ft = 0.0102 in/ft; 0.14 mm / 25.4 = 0.00551 in; 0.799 mm = 0.0315 in
    const text = flat(summary({}, 'in'));
    expect(text).toContain('0.01020 ± 0.00072 in/ft OUTSIDE, limit 0.0024 in/ft');
    expect(text).toContain('leans toward +X: 0.01020 in over 12 in');
    expect(text).toContain('0.00551 ± 0.00024 in');
    expect(text).toContain('bring the +X side toward −Y by 0.0315 ± 0.0022 in');
    // 320 × 25.4 = 8128 steps/in
    expect(text).toMatch(/from 8128 to 8117\.459 steps\/in .* from 320 to 319\.585 steps\/mm/);
    expect(text.replace(/steps\/mm|per mm/g, '')).not.toMatch(/ mm\b/);
  });

  it('says why something is undetermined and what to add, and shows no number for it', () => {
    const scale = { ...makeMeasurement().scale, x: UNDETERMINED };
    const text = summary({ scale });
    const line = text.split('\n').find((one) => one.startsWith('scale X '));
    expect(line).toMatch(/undetermined\s+cannot tell, limit 0\.2 mm\/m/);
    expect(flat(text)).toContain('a photo shows shapes, not sizes');
    expect(flat(text)).toContain('to add: tape one distance between two crossings');
    expect(flat(text)).toContain('steps per unit X: undetermined, so nothing is proposed');
  });

  it('calls a weak value weak, with the reason', () => {
    const squareness = estimate(3e-3, 0.4e-3, 'rad', {
      state: 'weak',
      reason: 'leans on what is usual for phone cameras',
      add: ['take eight photos'],
    });
    const text = flat(summary({ squareness }));
    expect(text).toContain('weak: 3.00 ± 0.40 mm/m');
    expect(text).toContain('leans on what is usual for phone cameras');
    expect(text).toContain('cannot tell, limit');
    expect(text).not.toContain('bring the');
  });

  it('says that nothing can be seen where the value is below its uncertainty', () => {
    const text = flat(summary({ squareness: estimate(0.01e-3, 0.06e-3, 'rad') }));
    expect(text).toContain('no lean of Y against X beyond the uncertainty');
    expect(text).not.toContain('leans toward');
  });

  it('names photos that were left out, with code, reason and hint', () => {
    expect(flat(summary())).toContain(
      '1 of 2 photos used left out photos/photo-2.jpg: the marks are too blurred to be located [PHOTO_BLURRED]; hold the phone still',
    );
  });

  it('lists what to do in order, then what to leave alone, then safety, then doubts', () => {
    const text = summary();
    const order = [
      '1. squareness: bring',
      '2. lost motion Y: take out',
      '3. steps per unit X: from 320 to',
      'Leave alone:',
      'Safety:',
      'Doubts:',
    ].map((part) =>
      flat(text).indexOf(part === '2. lost motion Y: take out' ? '2. lost motion Y:' : part),
    );
    expect(order.every((at) => at > 0)).toBe(true);
    expect([...order].sort((a, b) => a - b)).toEqual(order);
    expect(flat(text)).toContain('two pieces of evidence disagree [SOME_DOUBT]; tape again');
  });

  it('says cautions once, though the measurement repeats them as warnings', () => {
    const measurement = judged();
    const warned = {
      ...measurement,
      warnings: ["the machine's manual and the local rules come before this list", 'other'],
    };
    const text = flat(summaryText(warned, { units: 'mm', colour: false, width: 90 }));
    expect(text.split('manual and the local rules')).toHaveLength(2);
    expect(text).toContain('? other');
  });

  it('says how squareness changes where a gantry racks', () => {
    const racking = {
      ...estimate(1e-3, 0.1e-3, 'rad/m'),
      squarenessAtEnds: [
        { at: 0, value: 0.6e-3, u: 0.05e-3 },
        { at: 480, value: 1.1e-3, u: 0.05e-3 },
      ] as Measurement['racking']['squarenessAtEnds'],
    };
    const text = flat(summary({ racking }));
    expect(text).toContain('the +X side of the gantry travels farther than the other, toward +Y');
    expect(text).toContain('0.60 ± 0.10 mm/m at Y 0 mm, 1.10 ± 0.10 mm/m at Y 480 mm');
  });

  it('keeps within its width, 60 to 100 columns', () => {
    for (const [asked, most] of [
      [80, 80],
      [100, 100],
      [200, 100],
      [20, 60],
    ] as const) {
      for (const units of ['mm', 'in'] as const) {
        const widest = Math.max(
          ...summary({}, units, asked)
            .split('\n')
            .map((line) => line.length),
        );
        expect(widest, `${asked} columns`).toBeLessThanOrEqual(most);
      }
    }
  });

  it('has escape sequences only where colour is wanted', () => {
    const sequence = '\u001b[';
    const coloured = summaryText(judged(), { units: 'mm', colour: true, width: 90 });
    expect(coloured).toContain(sequence);
    expect(summary()).not.toContain(sequence);
  });
});

describe('the summary of nodes measured on the board', () => {
  const points = [{ file: 'p.csv', sha256: '', points: 35, outliers: 2, rmsMm: 0.0123 }];

  it('names their file, their count and their scatter, and no photos', () => {
    const text = flat(summary({ photos: [], points }));
    expect(text).toContain(
      '35 nodes measured on the board (p.csv), 2 left out as outlying; each coordinate scatters by 0.0123 mm',
    );
    expect(text).not.toMatch(/photos? used/);
  });
});

describe('a scale that was measured on a warm machine', () => {
  it('is told for 20 °C as well, where that can be felt', () => {
    const x = estimate(1.0e-3, 0.22e-3, '1');
    const text = flat(summary({ scaleAt20: { markedAt: 31, x } }));
    expect(text).toContain('so with the machine at 31 °C, at 20 °C 1.00 ± 0.22 mm/m');
    const near = estimate(1.25e-3, 0.22e-3, '1');
    expect(flat(summary({ scaleAt20: { markedAt: 22, x: near } }))).not.toContain('°C');
  });
});
