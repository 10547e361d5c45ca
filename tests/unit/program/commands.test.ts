import { describe, expect, test } from 'vitest';
import { type ReadProgramOptions, readCommands } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

function outcomeOf(text: string, marking: ReadProgramOptions['marking'] = 'auto') {
  return readCommands(text, { name: 'p.ngc', marking, blockDelete: false });
}

function read(text: string, marking: ReadProgramOptions['marking'] = 'auto') {
  return unwrap(outcomeOf(text, marking));
}

describe('feed and power', () => {
  const feeds = (text: string) => read(text, 'cutter').strokes.map((s) => s.feedMmPerMin);

  test('F is a length a minute in the units of the program', () => {
    expect(feeds('G21 G0 X0 Y0 Z-1\nG1 X9 F600\nY9 F300\nM2')).toEqual([600, 300]);
    expect(feeds('G20 G0 X0 Y0 Z-1\nG1 X9 F10\nM2')).toEqual([254]);
  });

  test('it is unknown before the first F, in G93 and G95, and where units change behind it', () => {
    expect(feeds('G21 G0 X0 Y0 Z-1\nG1 X9\nM2')).toEqual([undefined]);
    for (const mode of ['G93', 'G95']) {
      const text = `G21 F600 G0 X0 Y0 Z-1\n${mode}\nG1 X9 F2\nG94\nY9\nX0 F90\nM2`;
      expect(feeds(text)).toEqual([undefined, undefined, 90]);
    }
    expect(feeds('G21 F600 G0 X0 Y0 Z-1\nG20 G1 X9\nM2')).toEqual([undefined]);
  });

  test('S is the power; a stroke over which it changes has none of its own', () => {
    const text = 'G21 M3 S300\nG0 X0 Y0\nG1 X9 F600\nY9 S200\nY20 S250\nM2';
    expect(read(text).strokes.map((s) => [s.power, s.feedMmPerMin])).toEqual([
      [300, 600],
      [undefined, 600],
    ]);
  });
});

describe('the envelope', () => {
  test('holds rapid moves, arcs with their bulge, cycles down to the bottom', () => {
    // The half circle about (40, 0) with radius 10 reaches Y 10; the hole R 3 and Z -7.
    const text =
      'G21 G0 X-5 Y2 Z1\nG1 X30 Y0 F9\nG2 X50 I10\nG81 X60 Y-4 Z-7 R3\nG80\nG0 Z20\nG0 X0\nM2';
    const { x, y, z } = read(text).envelopeMm;
    expect(x).toEqual([-5, 60]);
    expect(y![0]).toBe(-4);
    expect(y![1]).toBeCloseTo(10, 12);
    expect(z).toEqual([-7, 20]);
  });

  test('an axis that is never named has none', () => {
    expect(read('G21 G0 X1 Y2\nG0 X5\nM2').envelopeMm).toEqual({
      x: [1, 5],
      y: [2, 2],
      z: undefined,
    });
    expect(read('').envelopeMm).toEqual({ x: undefined, y: undefined, z: undefined });
  });

  test('arcs in upright planes bulge along Z', () => {
    // G18: half a circle from (0, 0) to (20, 0) with its centre at (10, 0), radius 10. With Y
    // pointing at the eye and Z up, X goes left: clockwise from X0 dips below.
    const down = read('G21 G0 X0 Y5 Z0\nG18 G2 X20 Z0 I10 K0 F9\nM2').envelopeMm;
    const up = read('G21 G0 X0 Y5 Z0\nG18 G3 X20 Z0 I10 K0 F9\nM2').envelopeMm;
    expect([down.z![0], down.z![1], up.z![0], up.z![1]].map(Math.round)).toEqual([-10, 0, 0, 10]);
    // G19: seen from +X, Y goes right and Z up: counterclockwise from Y0 dips below.
    const side = read('G21 G0 X5 Y0 Z0\nG19 G3 Y20 Z0 J10 F9\nM2').envelopeMm;
    expect(Math.round(side.z![0])).toBe(-10);
    expect(side.x).toEqual([5, 5]);
  });

  test('stands in the coordinates of the first mark, unrelated moves left out and named', () => {
    const text =
      'G21 G0 X0 Y0 Z2\nG1 Z-1 F9\nX10\nG0 Z2\nG92 X0\nG0 X5\nG55\nG0 X900 Y3\nG54\nG0 X1 Y1\nM2';
    const program = read(text);
    // X5 behind the preset lies at 15.
    expect(program.envelopeMm.x).toEqual([0, 15]);
    const note = program.findings.find((f) => f.code === 'PROGRAM_MOVES_UNRELATED');
    expect(note?.message).toMatch(/line 8$/);
  });
});

describe('arcs', () => {
  const strokeBehind = (arc: string) =>
    read(`G21 G0 X0 Y0 Z-1\nG0 X10\n${arc} F9\nG1 X0 Y50\nM2`, 'cutter').strokes.at(-1)!;

  test('words of three decimals may miss the radius by their rounding', () => {
    // 10.01 from the start, 10.04 from the end.
    expect(strokeBehind('G3 X0 Y10.04 I-10.01 J0').fromMm).toEqual([0, 10.04]);
  });

  test.each([
    ['G3 X0 Y12 I-10 J0', /10 mm and 12 mm/],
    ['G3 X90 Y0 R10', /too far/],
    ['G3 X10 Y0 R10', /not its start/],
    ['G3 X5 Y5', /neither/],
    ['G3 X0 Y10 I-10 P0', /no count of turns/],
    ['G3 X0 Y10 I-10 P1.5', /no count of turns/],
  ])('%s is refused with its line', (arc, message) => {
    const outcome = outcomeOf(`G21 G0 X0 Y0\nG0 X10\n${arc}\nM2`);
    if (outcome.ok) throw new Error('expected a failure');
    expect(outcome.failure).toMatchObject({ code: 'PROGRAM_INVALID', figures: { line: 3 } });
    expect(outcome.failure.message).toMatch(message);
  });

  test('from an unknown place an arc tells nothing but its end', () => {
    const program = read('G21 G3 X0 Y10 R10 F9\nG0 Z-1\nG1 Y20\nM2', 'cutter');
    expect(program.strokes[0]).toMatchObject({ fromMm: [0, 10], approachX: 0 });
  });
});

describe('cutter compensation', () => {
  test('marks made with it are passed over and named, up to the move that leaves it', () => {
    const text =
      'G21 G0 X0 Y0 Z-1\nG41 D1\nG1 X10 F9\nY10\nG2 I5\nG40 G1 Z-2\nG1 X20\nY30\nG0 Z5\nG42.1 D3\nG40\nM2';
    const program = read(text, 'cutter');
    expect(program.strokes.map((s) => s.sourceLine)).toEqual([8]);
    expect(program.strokes[0]!.approachX).toBe(0);
    expect(program.holes).toEqual([]);
    const [note] = program.findings;
    expect(note).toMatchObject({ code: 'PROGRAM_COMPENSATED_PASSED_OVER' });
    expect(note!.message).toMatch(/lines 3, 4, 5, 7$/);
  });
});

describe('stops', () => {
  test('are named with their line, M1 as optional', () => {
    const text = 'G21\nO1 repeat [2]\nM0\nO1 endrepeat\nM1\nM60\nM2';
    expect(read(text).stops).toEqual([
      { line: 3, optional: false },
      { line: 5, optional: true },
      { line: 6, optional: false },
    ]);
  });
});

describe('words without effect on marks', () => {
  test('raise no doubt', () => {
    const text =
      'G21 G90 G17 G40 G49 G54 G64 G80 G94 G98\nG43 H1\nM6 T1\nM3 S9000\nM7\nM8\nM48\nG61\nG61.1\nG4 P1\nG0 X0 Y0 Z-1\nG1 X9 F90\nG43.1 Z3\nM9\nM49\nM5\nM30';
    expect(read(text).findings).toEqual([]);
  });

  test('several on a line are each named with their column', () => {
    const [finding] = read('G21 M106 M107 E5\nM2').findings;
    expect(finding!.message).toMatch(
      /line 1 \(M106 at column 5, M107 at column 10, E5 at column 15\)$/,
    );
  });

  test('lengths beyond any machine are refused', () => {
    const outcome = outcomeOf('G21\nG0 X1 Y99999999\nM2');
    expect(outcome).toMatchObject({ failure: { figures: { line: 2, column: 7 } } });
  });
});
