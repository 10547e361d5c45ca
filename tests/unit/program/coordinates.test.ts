import { describe, expect, test } from 'vitest';
import { readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const options = { name: 'grid.ngc', marking: 'cutter', blockDelete: false } as const;

/** Ends of the strokes of a program that cuts at Z -1, rounded to a nanometre. */
function endsOf(text: string) {
  const { strokes } = unwrap(readProgram(`G21 G90 G17\n${text}\nM2`, options));
  const round = (mm: number) => Number(mm.toFixed(6)) + 0;
  return strokes.map((stroke) => [...stroke.fromMm, ...stroke.toMm].map(round));
}

function refusedLine(text: string) {
  const outcome = readProgram(`G21 G90 G17\n${text}\nM2`, options);
  if (outcome.ok) throw new Error('expected a failure');
  expect(outcome.failure.code).toBe('PROGRAM_INVALID');
  return outcome.failure.figures.line;
}

/** From the origin of the words 10 to the right, then lifted. */
const MARK = 'G0 Z2\nG0 X0 Y0\nG1 Z-1 F90\nG1 X10\nG0 Z2';
const FIRST = [0, 0, 10, 0];

describe('systems whose origins the program sets (NISTIR 6556, section 3.5.5, G10 L2)', () => {
  test('are related: marks come out in the coordinates of the first mark', () => {
    // Origins (100, 50) and (400, 80): the second lies (300, 30) from the first.
    const set = 'G10 L2 P1 X100 Y50\nG10 L2 P2 X400 Y80';
    expect(endsOf(`${set}\nG54\n${MARK}\nG55\n${MARK}\nG54\n${MARK}`)).toEqual([
      FIRST,
      [300, 30, 310, 30],
      FIRST,
    ]);
    expect(endsOf(`${set}\nG55\n${MARK}\nG54\n${MARK}`)).toEqual([FIRST, [-300, -30, -290, -30]]);
  });

  test('a hole is a mark too: where it is the first one, its coordinates count', () => {
    const hole = 'G81 X3 Y4 Z-5 R2\nG80';
    const text = `G10 L2 P1 X100 Y50\nG10 L2 P2 X400 Y80\n${hole}\nG55\n${MARK}`;
    expect(endsOf(text)).toEqual([[300, 30, 310, 30]]);
    const { holes } = unwrap(readProgram(`G21\n${text}\n${hole}\nM2`, options));
    expect(holes.map(({ centreMm }) => centreMm)).toEqual([
      [3, 4],
      [303, 34],
    ]);
  });

  test('are related up to P9, which is G59.3', () => {
    const set = 'G10 L2 P1 X0 Y0\nG10 L2 P9 X5 Y7';
    expect(endsOf(`${set}\n${MARK}\nG59.3\n${MARK}`)).toEqual([FIRST, [5, 7, 15, 7]]);
  });

  test('are not where one axis or one system is left out', () => {
    expect(refusedLine(`G10 L2 P1 X0 Y0\nG10 L2 P2 X5\n${MARK}\nG55\n${MARK}`)).toBe(13);
    expect(refusedLine(`G10 L2 P2 X5 Y5\n${MARK}\nG55\n${MARK}`)).toBe(12);
  });

  test('keep where the tool is: an incremental move goes on from there', () => {
    // At X10 of G54, which is X110 of the machine and X60 of G55; 5 further is X65 there, X15 here.
    const text = `G10 L2 P1 X100 Y0\nG10 L2 P2 X50 Y0\n${MARK}\nG55\nG0 Z-1\nG91 G1 X5`;
    expect(endsOf(text)).toEqual([FIRST, [10, 0, 15, 0]]);
  });

  test('keep the height of the tool where Z is set too, and lose it otherwise', () => {
    // Z -1 in G54 is -11 of the machine, and -6 in G55.
    const text = (z: string) =>
      `G10 L2 P1 X0 Y0 Z-10\nG10 L2 P2 X0 Y0 ${z}\nG0 Z2\nX0 Y0\nG1 Z-1\nX10\nG55\nX20\nG0 Z2`;
    expect(endsOf(text('Z-5'))).toEqual([[0, 0, 20, 0]]);
    expect(endsOf(text(''))).toEqual([FIRST]);
  });

  test('G10 L20 calls the present position by its words', () => {
    // At (10, 0), which becomes (1, 2): the origin lies at (9, -2).
    expect(endsOf(`${MARK}\nG10 L20 P1 X1 Y2\n${MARK}`)).toEqual([FIRST, [9, -2, 19, -2]]);
    expect(endsOf(`${MARK}\nG10 L20 P3 X1 Y2\nG56\n${MARK}`)).toEqual([FIRST, [9, -2, 19, -2]]);
  });

  test('G10 L20 of another system leaves the height that the words name', () => {
    // Would Z be -5 now, the move to X30 would mark.
    expect(endsOf(`${MARK}\nG10 L20 P3 Z-5\nG1 X30`)).toEqual([FIRST]);
    expect(endsOf(`${MARK}\nG10 L20 P1 Z-5\nG1 X30`)).toEqual([FIRST, [10, 0, 30, 0]]);
  });

  test('an incremental move in Z alone does not say where X and Y are', () => {
    const text = (start: string) => `G21 G90\n${start}\nG90\n${MARK}\nM2`;
    const codes = (start: string) =>
      unwrap(readProgram(text(start), options)).findings.map(({ code }) => code);
    expect(codes('G91 G0 Z5')).not.toContain('PROGRAM_START_ASSUMED');
    expect(codes('G91 G0 X5')).toContain('PROGRAM_START_ASSUMED');
  });

  test('G10 in G91, or of an unknown form, tells nothing; P10 and a turn are refused', () => {
    expect(refusedLine(`${MARK}\nG91 G10 L2 P1 X0 Y0\nG90\n${MARK}`)).toBe(12);
    expect(refusedLine(`${MARK}\nG10 L3 P1 X5 Y0\n${MARK}`)).toBe(11);
    expect(refusedLine('G10 L2 P10 X0')).toBe(2);
    expect(refusedLine('G10 L2 P1 X0 R30')).toBe(2);
    expect(endsOf(`${MARK}\nG10 L1 P1 Z5\n${MARK}`)).toEqual([FIRST, FIRST]);
  });
});

describe('presets (NISTIR 6556, section 3.5.18)', () => {
  test('G92.2 takes the preset off, G92.3 brings it back, where the start is known', () => {
    // At X10, called X0: words lie 10 further right.
    const text = `G92.1\n${MARK}\nG92 X0\n${MARK}\nG92.2\n${MARK}\nG92.3\n${MARK}\nG92.1\n${MARK}`;
    expect(endsOf(text)).toEqual([FIRST, [10, 0, 20, 0], FIRST, [10, 0, 20, 0], FIRST]);
  });

  test('G92.1 forgets the preset: G92.3 brings nothing back', () => {
    const text = `G92.1\n${MARK}\nG92 X0\nG92.1\nG92.3\n${MARK}`;
    expect(endsOf(text)).toEqual([FIRST, FIRST]);
  });

  test('without G92.1 at the start nobody knows what it takes off', () => {
    expect(refusedLine(`${MARK}\nG92 X0\n${MARK}\nG92.1\n${MARK}`)).toBe(17);
  });

  test('G92 at an unknown place begins coordinates of its own', () => {
    expect(endsOf(`G92 X5 Y0\nG0 Z2\nG1 Z-1\nX10\nG0 Z2`)).toEqual([[5, 0, 10, 0]]);
    expect(refusedLine(`${MARK}\nG28\nG92 X0 Y0\n${MARK}`)).toBe(12);
  });

  test('a preset holds in all systems', () => {
    // G92 X0 at X10 shifts both by 10; G55 lies 300 further.
    const set = 'G10 L2 P1 X0 Y0\nG10 L2 P2 X300 Y0';
    expect(endsOf(`${set}\n${MARK}\nG92 X0\nG55\n${MARK}`)).toEqual([FIRST, [310, 0, 320, 0]]);
  });

  test('G92 Z names the surface anew', () => {
    // At Z 2, called -1.
    expect(endsOf('G0 X0 Y0 Z2\nG92 Z-1\nG1 X10')).toEqual([FIRST]);
  });
});

describe('customary shifts', () => {
  test('G52 moves the origin by its words and back with zeros', () => {
    expect(endsOf(`${MARK}\nG52 X7 Y3\n${MARK}\nG52 X0 Y0\n${MARK}`)).toEqual([
      FIRST,
      [7, 3, 17, 3],
      FIRST,
    ]);
  });

  test('lengths of shifts are in the units of the program', () => {
    expect(endsOf(`${MARK}\nG20 G52 X1 Y0\nG21\n${MARK}`)[1]).toEqual([25.4, 0, 35.4, 0]);
  });

  test('G68 turns words about its centre, G69 stops it', () => {
    // About (10, 20), a quarter turn counterclockwise: (0, 0) - (10, 20) = (-10, -20) becomes
    // (20, -10), so (30, 10); (10, 0) becomes (30, 20).
    expect(endsOf(`${MARK}\nG68 X10 Y20 R90\n${MARK}\nG69\n${MARK}`)).toEqual([
      FIRST,
      [30, 10, 30, 20],
      FIRST,
    ]);
  });

  test('the centre of G68 is in the units that hold', () => {
    // Inches: (0, 0) and (254, 0) about (25.4, 50.8), a quarter turn anticlockwise: x' = 76.2 - y, y' = 25.4 + x.
    expect(endsOf(`${MARK}\nG20\nG68 X1 Y2 R90\n${MARK}`)).toEqual([
      FIRST,
      [76.2, 25.4, 76.2, 279.4],
    ]);
  });

  test('G68 turns distances too, and one word moves both axes', () => {
    // 30 degrees: 10 along X goes (8.660254, 5).
    const text = 'G0 X0 Y0 Z2\nG68 X0 Y0 R30\nG1 Z-1\nG91 G1 X10\nG90 G1 X20';
    expect(endsOf(text)).toEqual([[0, 0, 17.320508, 10]]);
  });

  test('turned marks in a system that nothing relates are refused', () => {
    expect(refusedLine(`${MARK}\nG55\nG68 X0 Y0 R90\n${MARK}`)).toBe(12);
  });

  test('the approach in turned coordinates is that of the axes themselves', () => {
    const text = 'G21\nG0 X0 Y0 Z2\nG68 X0 Y0 R180\nG0 X5 Y5\nG1 Z-1\nX15\nM2';
    const [stroke] = unwrap(readProgram(text, options)).strokes;
    expect(stroke).toMatchObject({ approachX: -1, approachY: -1 });
  });

  test.each([
    'G68 R30',
    'G68 X0 Y0',
    'G18 G68 X0 Y0 R30',
    'G91 G68 X0 Y0 R30',
    'G68 X0 Y0 R30\nG52 X5',
    'G68 X0 Y0 R30\nG55',
    'G16 X5',
    'G51 X2',
  ])('%j is refused', (text) => {
    expect(refusedLine(text)).toBe(text.split('\n').length + 1);
  });
});
