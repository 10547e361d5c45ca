import { describe, expect, it } from 'vitest';
import type { Measurement } from '../../../shared/schemas/measurement.js';
import {
  COMPENSATED_TERMS,
  type CompensateRequest,
  type Compensation,
  compensate,
} from '../../../src/compensation/index.js';
import { readCommands } from '../../../src/program/index.js';
import { type Failure, unwrap } from '../../../src/quantity/index.js';
import { estimate, makeMeasurement, UNDETERMINED } from '../report/make-measurement.js';

const PART = 'G21 G90\nG0 X0 Y0 Z5\nG1 Z-1 F300\nG1 X600 Y400 F900\nM30\n';

function request(text: string, more: Partial<CompensateRequest> = {}): CompensateRequest {
  return {
    name: 'part.ngc',
    text,
    measurement: makeMeasurement(),
    measurementSha256: '0123456789abcdef'.repeat(4),
    wanted: new Set(COMPENSATED_TERMS),
    toleranceMm: 0.005,
    zeroMm: [0, 0],
    ...more,
  };
}

function done(text: string, more: Partial<CompensateRequest> = {}): Compensation {
  return unwrap(compensate(request(text, more)));
}

function refused(text: string, more: Partial<CompensateRequest> = {}): Failure {
  const outcome = compensate(request(text, more));
  if (outcome.ok) throw new Error(`was compensated: ${outcome.value.text}`);
  return outcome.failure;
}

describe('a compensated program', () => {
  it('says at its head that it is one, by which measurement, for what and how near', () => {
    const { text } = done(`%\nO12 (plate)\n${PART}%\n`);
    const lines = text.split('\n');
    expect(lines.slice(0, 2)).toEqual(['%', 'O12 (plate)']);
    const head = lines.slice(2, 7).join('\n');
    expect(head).toMatch(/^\(COMPENSATED BY GANTRUE: do not compensate again/);
    expect(head).toContain(
      'marks seen on 2026-11-20, machine Test router, SHA-256 0123456789abcdef',
    );
    expect(head).toContain('taken out: squareness, scale X, scale Y');
    expect(head).toContain('within 0.005 mm; zero of the program at X0 Y0 of the grid');
    expect(lines[7]).toBe('G21 G90');
  });

  it('has a plain comment whatever the machine is called', () => {
    const { text } = done(PART, { measurement: makeMeasurement({ machine: 'Fräse (groß) №1' }) });
    expect(text.split('\n')[1]).toMatch(
      /^\(measurement of [^()]*machine Frase {2}gro {2}No1, [\x20-\x7e]*\)$/,
    );
  });

  it('is refused the second time, also where an editor changed its comment', () => {
    const { text } = done(PART);
    for (const again of [text, text.toLowerCase(), text.replace('BY GANTRUE', 'by  Gantrue')]) {
      expect(refused(again).code).toBe('ALREADY_COMPENSATED');
    }
    expect(done(`(to be compensated by somebody)\n${PART}`).text).toContain('somebody');
  });

  it('is told apart where a grid is to be measured with it', () => {
    const read = unwrap(
      readCommands(done(PART).text, { name: 'x', marking: 'auto', blockDelete: false }),
    );
    expect(read.findings.map(({ code }) => code)).toContain('PROGRAM_COMPENSATED');
    const plain = unwrap(readCommands(PART, { name: 'x', marking: 'auto', blockDelete: false }));
    expect(plain.findings.map(({ code }) => code)).not.toContain('PROGRAM_COMPENSATED');
  });

  it('comes with what was used, what was not and why, and how far it reaches', () => {
    const { record } = done(PART);
    expect(record.used.map(({ what }) => what)).toEqual(['squareness', 'scale X', 'scale Y']);
    expect(record.leftOut.map(({ what }) => what)).toContain('lost motion');
    expect(record.envelope.before.x).toEqual([0, 600]);
    // 600 = x (1 + 0.0013) + 0.00085 y, 400 = y (1 - 0.0001), both but for a swelling of 0.0006 of s.
    expect(record.envelope.after.x![1]).toBeCloseTo((600 - 0.00085 * 400.04) / 1.0013, 2);
    expect(record.envelope.after.y![1]).toBeCloseTo(400 / 0.9999, 3);
    expect(record.largestMissMm).toBeLessThan(0.00071);
    expect(record.lines).toMatchObject({ changed: 1, split: 0, expanded: false });
    expect(record.cautions.join()).toMatch(/corrected twice/);
    expect(record.cautions.join()).toMatch(/lost motion stays/);
  });

  it('goes beyond the grid with a warning, where something varies there', () => {
    const at = [0, 120, 240, 360, 480, 600, 720];
    const measurement = makeMeasurement({
      straightnessCurve: {
        x: at.map((x) => ({ at: x, value: 0.1 * ((x - 360) / 360) ** 2, u: 0.002 })),
        y: at.slice(0, 5).map((y) => ({ at: y, value: 0, u: 0.002 })),
      },
    });
    const far = PART.replace('X600', 'X900');
    const codes = (one: Compensation) => one.record.findings.map(({ code }) => code);
    expect(codes(done(far, { measurement }))).toContain('COMPENSATION_BEYOND_GRID');
    expect(codes(done(PART, { measurement }))).not.toContain('COMPENSATION_BEYOND_GRID');
    expect(codes(done(far))).not.toContain('COMPENSATION_BEYOND_GRID');
  });

  it('of a loop is written out with a finding', () => {
    const { text, record } = done('G90 G0 X0 Y0\nO1 repeat [3]\nG91 G1 Y100 F9\nO1 endrepeat\nM30');
    expect(text).not.toMatch(/repeat/);
    expect(record.lines.expanded).toBe(true);
    expect(record.findings.map(({ code }) => code)).toContain('PROGRAM_EXPANDED');
  });

  it('is doubted where the machine file is of another machine', () => {
    const { record } = done(PART, { machine: { name: 'The other one' } });
    expect(record.findings.map(({ code }) => code)).toEqual(['MACHINE_DIFFERS']);
  });
});

describe('a program is refused', () => {
  const UNSAFE: readonly [title: string, text: string, line: number, words: RegExp][] = [
    [
      'cutter radius compensation',
      'G0 X0 Y0\nG41 D1 G1 X5 Y5 F9\nG40 X9\nM30',
      2,
      /G41.*path of the tool/,
    ],
    ['turned coordinates', 'G0 X0 Y0\nG68 X0 Y0 R30\nG1 X9 F9\nM30', 2, /G68.*turn the part/],
    ['moves to machine coordinates', 'G0 X0 Y0\nG53 G0 X5\nM30', 2, /G53.*take X and Y out/],
    ['probing', 'G0 X0 Y0\nG38.2 Z-9 F9\nM30', 2, /G38/],
    ['an intermediate point on the way home', 'G0 X0 Y0\nG28 X5 Y5\nM30', 2, /G28.*G91 G28 X0 Y0/],
    ['inverse time feed', 'G0 X0 Y0\nG93 G1 X5 F9\nM30', 2, /G93.*G94/],
    [
      'drilling in a tilted plane',
      'G0 X0 Y0 Z9\nG18 G81 X5 Y-5 Z5 R2 F9\nM30',
      2,
      /outside the XY plane.*G17/,
    ],
    ['a switched line that moves', 'G0 X0 Y0\n/G1 X5 F9\nM30', 2, /line with \//],
    ['a switched line that changes units', 'G0 X0 Y0\n/G20\nG1 X5 F9\nM30', 2, /changes modes/],
    ['one axis known', 'G0 X10\nG1 Y9 F9\nM30', 1, /name X and Y together/],
    [
      'one axis known behind a reference',
      'G0 X10 Y10\nG28 Z0\nG0 X5\nM30',
      3,
      /name X and Y together/,
    ],
    ['unrelated coordinates', 'G0 X0 Y0\nG55 G0 X5 Y5\nM30', 2, /--origin/],
    ['another axis along', 'G0 X0 Y0\nG1 X5 A90 F9\nM30', 2, /another axis \(A\)/],
    ['a thread', 'G0 X0 Y0\nG33 X9 Z-5 K1\nM30', 2, /G33/],
    [
      'a helix from an unknown height that becomes chords',
      'G0 X300 Y300\nG2 I-200 Z-2 F9\nM30',
      2,
      /unknown Z; name Z in an earlier move/,
    ],
    ['a dwell with X', 'G0 X0 Y0\nG4 X2\nM30', 2, /dwell/],
  ];
  for (const [title, text, line, words] of UNSAFE) {
    it(`that has ${title}, with its line and what to do`, () => {
      const { code, message, figures } = refused(text);
      expect(code).toBe('COMPENSATION_UNSAFE');
      const told = message.split('\n').find((one) => one.startsWith(`  line ${line}: `));
      expect(told, message).toMatch(words);
      expect(String(figures.lines).split(',')).toContain(String(line));
    });
  }

  it('with all its lines, a long list cut short', () => {
    const { message, figures } = refused(`G0 X0 Y0\n${'G53 G0 X1\n'.repeat(20)}M30`);
    expect(message).toContain('line 13: ');
    expect(message).not.toContain('line 14: ');
    expect(message).toContain('and 8 more');
    expect(String(figures.lines).split(',')).toHaveLength(20);
  });

  it('by its line where it has polar coordinates, scaling, a spline or a macro', () => {
    for (const code of ['G16', 'G51 X0 Y0 P2', 'G5 X1 Y1 I1 J1', 'G65 P100']) {
      const { code: failure, message } = refused(`G0 X0 Y0\n${code}\nG1 X9 F9\nM30`);
      expect([code, failure]).toEqual([code, 'PROGRAM_INVALID']);
      expect(message).toMatch(/^line 2, column 1: /);
    }
  });

  it('that marked the very grid of the measurement', () => {
    const { sha256 } = done(PART).record;
    const [placement] = makeMeasurement().placements;
    const measurement = makeMeasurement({ placements: [{ ...placement!, sha256 }] });
    const failure = refused(PART, { measurement });
    expect(failure.code).toBe('COMPENSATION_UNSAFE');
    expect(failure.message).toMatch(/marked the grid/);
  });

  it('that moves neither X nor Y, or whose expressions ask the machine', () => {
    expect(refused('G0 Z5\nM30').message).toMatch(/neither X nor Y/);
    expect(refused('G0 X#5420 Y0\nM30').code).toBe('PROGRAM_INVALID');
  });

  it('where it would leave the travel and did not before', () => {
    const measurement: Measurement = makeMeasurement({
      scale: { x: estimate(-0.002, 1e-4, '1'), y: UNDETERMINED, ratio: UNDETERMINED },
    });
    // 600 / 0.998 - 0.85 · 0.4 = 600.86 at the far corner.
    const failure = refused(PART, { measurement, machine: { travel: { x: 600.5, y: 500 } } });
    expect(failure.code).toBe('TRAVEL_EXCEEDED');
    expect(failure.message).toMatch(/needs 600\.86\d mm along X; the travel is 600\.5 mm/);
    // Before it did not fit either: nothing is worse.
    expect(
      compensate(request(PART, { measurement, machine: { travel: { x: 599, y: 500 } } })).ok,
    ).toBe(true);
    expect(
      compensate(request(PART, { measurement, machine: { travel: { x: 602, y: 500 } } })).ok,
    ).toBe(true);
  });
});

describe('a measurement that does not do', () => {
  it('holds nothing measured: with every reason and what to add', () => {
    const failure = refused(PART, {
      measurement: makeMeasurement({
        squareness: UNDETERMINED,
        scale: { x: UNDETERMINED, y: UNDETERMINED, ratio: UNDETERMINED },
        straightness: { x: UNDETERMINED, y: UNDETERMINED },
      }),
    });
    expect(failure.code).toBe('NOTHING_TO_COMPENSATE');
    expect(failure.message).toMatch(/squareness: undetermined: no known length/);
    expect(failure.hint).toMatch(/tape one distance/);
  });

  it('holds an error that no machine has', () => {
    const measurement = makeMeasurement({ squareness: estimate(0.3, 1e-3, 'rad') });
    expect(refused(PART, { measurement }).message).toMatch(/squareness is off by 300 mm\/m/);
  });
});

describe('a program that only goes home', () => {
  it('by G91 G28 X0 Y0, G53 in Z, or G28 without X and Y, is compensated and these lines stay', () => {
    const home = ['G53 G0 Z0', 'G0 X100 Y200', 'G91 G28 X0 Y0', 'G28'];
    const { text } = done(`G90 G0 X0 Y0\nG1 X9 F9\nG28 Z5\nG0 X100 Y100\n${home.join('\n')}\nM30`);
    for (const line of ['G28 Z5', 'G53 G0 Z0', 'G91 G28 X0 Y0', 'G28']) {
      expect(text.split('\n')).toContain(line);
    }
  });
});
