import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { type ReadProgramOptions, readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const LASER = 'G21 G90 M3 S500\n';

function read(text: string, options: Partial<ReadProgramOptions> = {}) {
  return readProgram(text, { name: 'grid.ngc', marking: 'auto', blockDelete: false, ...options });
}

function strokesOf(text: string, options: Partial<ReadProgramOptions> = {}) {
  return unwrap(read(text, options)).strokes;
}

function failureOf(text: string, options: Partial<ReadProgramOptions> = {}) {
  const outcome = read(text, options);
  if (outcome.ok) throw new Error('expected a failure');
  return outcome.failure;
}

function codesOf(text: string): string[] {
  return unwrap(read(text)).findings.map((finding) => finding.code);
}

describe('what is a mark', () => {
  test('a laser marks only in G1 moves with the spindle word on and S above 0', () => {
    const strokes = strokesOf(
      `G21 G90\nG0 X0 Y0\nG1 X10 F600\nM3 S0\nG1 X20\nS300\nG1 X30\nG0 X40\nM5\nG1 X50\nM4\nG1 X60\nM30\n`,
    );
    expect(strokes.map((s) => [s.fromMm[0], s.toMm[0], s.sourceLine])).toEqual([
      [20, 30, 7],
      [50, 60, 12],
    ]);
  });

  test('a cutter marks only where Z is below 0, and a ramp from where it enters the surface', () => {
    const program = unwrap(read('G21 G0 Z5\nX0 Y0\nG1 Z1 F300\nX40 Z-1\nX60\nG0 Z5\nG1 X80\nM2\n'));
    expect(program.marking).toBe('cutter');
    // Z runs from 1 to -1 over 40 mm: it reaches 0 at 20 mm.
    expect(program.strokes.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [20, 0],
        [60, 0],
      ],
    ]);
  });

  test('a program that could be read both ways is read as cut, and says so', () => {
    const text = `${LASER}G0 X0 Y0 Z0\nG1 X10 F100\nZ-0.2\nX20\nM2`;
    expect(unwrap(read(text)).marking).toBe('cutter');
    expect(codesOf(text)).toContain('PROGRAM_MARKING_UNCERTAIN');
    expect(strokesOf(text, { marking: 'laser' }).map((s) => s.fromMm[0])).toEqual([0, 10]);
  });

  test('a cut program with a running spindle and rapid travel raises no doubt', () => {
    expect(codesOf(`${LASER}G0 Z2\nX0 Y0\nG1 Z-0.3 F100\nX50\nG0 Z2\nM2`)).toEqual([]);
  });
});

describe('what is one stroke', () => {
  test('moves that go on in the same direction are one stroke', () => {
    const strokes = strokesOf(`${LASER}G0 X0 Y0\nG1 X10 F100\nX20\nX35\nM2`);
    expect(strokes).toHaveLength(1);
    expect(strokes[0]).toMatchObject({ fromMm: [0, 0], toMm: [35, 0], approachX: 1 });
  });

  test('a reversal, a corner and an interrupted beam split', () => {
    const strokes = strokesOf(`${LASER}G0 X0 Y0\nG1 X10 F100\nX5\nY5\nM5\nM3\nY10\nM2`);
    expect(strokes.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [0, 0],
        [10, 0],
      ],
      [
        [10, 0],
        [5, 0],
      ],
      [
        [5, 0],
        [5, 5],
      ],
      [
        [5, 5],
        [5, 10],
      ],
    ]);
  });

  test('a lifted cutter splits a line', () => {
    expect(
      strokesOf('G21 G0 Z1\nX0 Y0\nG1 Z-1 F90\nX10\nG0 Z1\nG1 Z-1\nX20\nM2').map((s) => s.id),
    ).toEqual([0, 1]);
  });
});

describe('approach', () => {
  test('the first move to an absolute position tells no direction, the overrun behind it does', () => {
    const text = (run: string) => `${LASER}${run}\nG1 Y50 F100\nM2`;
    expect(strokesOf(text('G0 X10 Y0'))[0]).toMatchObject({ approachX: 0, approachY: 1 });
    expect(strokesOf(text('G0 X5 Y0\nG0 X10'))[0]).toMatchObject({ approachX: 1, approachY: 1 });
    expect(strokesOf(text('G0 X15 Y0\nG0 X10'))[0]).toMatchObject({ approachX: -1, approachY: 1 });
  });

  test('an incremental move tells its direction even from an unknown place', () => {
    const program = unwrap(read(`${LASER}G91\nG0 X-5\nG1 Y50 F100\nM2`));
    expect(program.strokes[0]).toMatchObject({ fromMm: [-5, 0], toMm: [-5, 50], approachX: -1 });
    expect(program.findings.map((f) => f.code)).toEqual(['PROGRAM_START_ASSUMED']);
  });

  test('a move of no length leaves the approach as it was', () => {
    const strokes = strokesOf(`${LASER}G0 X5 Y0\nG0 X10\nG0 X10\nG1 X10 Y50 F100\nM2`);
    expect(strokes[0]!.approachX).toBe(1);
  });

  test('a move to a machine position leaves the approach unknown', () => {
    for (const away of ['G28', 'G91 G28 X0 Y0\nG90', 'G53 G0 X0 Y0', 'G30']) {
      const text = `${LASER}G0 X0 Y0\nG0 X5\n${away}\nG0 X10 Y0\nG1 Y50 F100\nM2`;
      expect(strokesOf(text)[0]).toMatchObject({ approachX: 0, approachY: 1 });
      expect(codesOf(text)).toContain('PROGRAM_REFERENCE_MOVES');
    }
  });

  test('an arc leaves the approach of its end', () => {
    // Quarter circle, counterclockwise, from (10, 0) to (0, 10) about (0, 0): X falls, Y rises.
    const head = 'G21 G0 X0 Y0\nX10\nG3 X0 Y10 ';
    for (const form of ['I-10 J0', 'R10']) {
      expect(strokesOf(`${head}${form} F100\nM3 S9\nG1 X0 Y20\nM2`)[0]).toMatchObject({
        fromMm: [0, 10],
        approachX: -1,
        approachY: 1,
      });
    }
  });
});

describe('units and coordinates', () => {
  test('G20 lengths become mm', () => {
    const program = unwrap(read('G20 M3 S9\nG0 X0 Y0\nG1 X2 F9\nM2'));
    expect(program.strokes[0]!.toMm[0]).toBeCloseTo(50.8, 12);
    expect(program).toMatchObject({ unitsUsed: 'inch' });
    expect(program.largestExtentMm).toBeCloseTo(50.8, 12);
  });

  test('unstated units are read as mm and reported', () => {
    expect(codesOf('M3 S9\nG0 X0 Y0\nG1 X2 F9\nM2')).toEqual(['PROGRAM_UNITS_UNSTATED']);
  });

  test('G92 before the first mark names the place, behind it marks stay where they were', () => {
    expect(strokesOf(`${LASER}G92 X0 Y0\nG0 X5\nG1 Y50 F1\nM2`)[0]).toMatchObject({
      fromMm: [5, 0],
      approachX: 1,
    });
    // NISTIR 6556, section 3.5.18: at X4, G92 X7 makes the offset -3: X8 then lies at 5.
    expect(
      strokesOf(`${LASER}G0 X0 Y0\nG1 X4 F1\nG92 X7\nG1 X8\nM2`).map((s) => s.toMm[0]),
    ).toEqual([5]);
  });

  test('marks in two coordinate systems are refused, with the line', () => {
    const failure = failureOf(`${LASER}G0 X0 Y0\nG1 X4 F1\nG55\nG0 X0 Y0\nG1 X8\nM2`);
    expect(failure.code).toBe('PROGRAM_INVALID');
    expect(failure.figures).toMatchObject({ line: 6 });
  });

  test('a coordinate system named before the first mark changes nothing', () => {
    expect(strokesOf(`${LASER}G0 Z5\nG55\nG0 X0 Y0\nG1 X4 F1\nG54\nM2`)).toHaveLength(1);
  });
});

describe('what is passed over', () => {
  test('arcs and holes are no strokes, but the strokes behind them lie right', () => {
    const program = unwrap(
      read(
        'G21 G0 Z2\nX0 Y0\nG1 Z-1 F90\nX10\nG2 X20 Y0 I5 J0\nG1 X30\nG0 Z2\nG81 X40 Y5 Z-3 R1\nX50\nG80\nG0 Y10\nG1 Z-1\nX60\nG0 Z2\nG0 X0\nG1 Z-1\nG0 Z2\nM2',
      ),
    );
    expect(program.strokes.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [0, 0],
        [10, 0],
      ],
      [
        [20, 0],
        [30, 0],
      ],
      [
        [50, 10],
        [60, 10],
      ],
    ]);
    const text = program.findings.map((finding) => `${finding.code}: ${finding.message}`);
    expect(text).toEqual([expect.stringMatching(/ARCS.*line 5$/)]);
    // Two drilled, and the plunge in line 16 that comes up again without moving aside.
    expect(program.holes.map((hole) => [hole.centreMm, hole.sourceLine])).toEqual([
      [[40, 5], 8],
      [[50, 5], 9],
      [[0, 10], 16],
    ]);
  });

  test('unknown words are named with their line and column', () => {
    const program = unwrap(read(`${LASER}G0 X0 Y0\nM106\nG1 X9 E3 F1\nM2`));
    expect(program.findings[0]).toMatchObject({ code: 'PROGRAM_WORDS_PASSED_OVER' });
    expect(program.findings[0]!.message).toMatch(
      /line.* 3 \(M106 at column 1\), 4 \(E3 at column 7\)/,
    );
  });

  test('block delete skips lines with / only when it is on', () => {
    const text = `${LASER}G0 X0 Y0\n/G1 X5 F1\nG1 X9 F1\nM2`;
    expect(strokesOf(text, { blockDelete: false })[0]).toMatchObject({ sourceLine: 3 });
    expect(strokesOf(text, { blockDelete: true })[0]).toMatchObject({ sourceLine: 4 });
  });

  test('nothing behind the end is read, and a missing end is reported', () => {
    expect(codesOf(`${LASER}G0 X0 Y0\nG1 X9 F1\nM30\n!!! leftover`)).toEqual([]);
    expect(codesOf(`%\n${LASER}G0 X0 Y0\nG1 X9 F1\n%\n!!! leftover`)).toEqual([]);
    expect(codesOf(`${LASER}G0 X0 Y0\nG1 X9 F1\n`)).toEqual(['PROGRAM_END_MISSING']);
  });

  test('a mark from an unknown place is left out', () => {
    const program = unwrap(read(`${LASER}G1 X9 F1\nY9\nY20\nM2`));
    expect(program.strokes.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [9, 9],
        [9, 20],
      ],
    ]);
    expect(program.findings.map((f) => f.code)).toEqual(['PROGRAM_MARKS_UNPLACED']);
  });
});

describe('what is refused', () => {
  test.each([
    ['G21\nG1 X[1+2', 2, 5],
    ['G1 X sin 30', 1, 6],
    ['G1 X#3', 1, 5],
    ['#3 5', 1, 5],
    ['O100 sub', 1, undefined],
    ['M97 P100', 1, 1],
    ['G1 X', 1, 5],
    ['G1 X1,5', 1, 6],
    ['G1 X1 (open', 1, 7],
    ['G1 X1 (a (b))', 1, 10],
    ['<svg/>', 1, 1],
    ['G1 X1e3 X2', 1, 9],
    ['G0 G1 X1', 1, undefined],
    ['G16 X1', 1, 1],
    ['M98 P100', 1, 1],
    ['X5', 1, undefined],
    ['G5 X1 Y2', 1, 1],
  ])('%j is refused with its place', (text, line, column) => {
    const failure = failureOf(text);
    expect(failure.code).toBe('PROGRAM_INVALID');
    expect(failure.figures).toEqual(column === undefined ? { line } : { line, column });
    expect(failure.hint).not.toBe('');
    expect(failure.where).toBe('grid.ngc');
  });

  test('a program without marks says what would be one', () => {
    expect(failureOf('').code).toBe('PROGRAM_NO_MARKS');
    const failure = failureOf('G21 G0 X0 Y0\nG1 X10 F9\nM2');
    expect(failure.code).toBe('PROGRAM_NO_MARKS');
    expect(failure.hint).toMatch(/M3.*Z below 0/);
  });
});

describe('the text itself', () => {
  test('line ends and a byte order mark change nothing but the digest', () => {
    const text = `${LASER}G0 X0 Y0\nG1 X9 F1\nM2\n`;
    const plain = unwrap(read(text));
    for (const other of [
      text.replaceAll('\n', '\r\n'),
      text.replaceAll('\n', '\r'),
      `\ufeff${text}`,
    ]) {
      expect(unwrap(read(other)).strokes).toEqual(plain.strokes);
    }
    expect(plain.sha256).toBe(createHash('sha256').update(Buffer.from(text)).digest('hex'));
  });

  test('a long program is read in reasonable time', () => {
    const lines = Array.from({ length: 100_000 }, (_, i) => `G1 X${i % 2} Y${i} F100`);
    expect(strokesOf(`${LASER}G0 X0 Y0\n${lines.join('\n')}\nM2`)).toHaveLength(99_999);
  });
});
