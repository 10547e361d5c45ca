import { describe, expect, test } from 'vitest';
import { type ReadProgramOptions, readCommands, readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

function read(text: string, marking: ReadProgramOptions['marking'] = 'auto') {
  return unwrap(readCommands(text, { name: 'holes.ngc', marking, blockDelete: false }));
}

/** Centre and steps of each hole, to a nanometre. */
function holesOf(text: string, marking: ReadProgramOptions['marking'] = 'auto') {
  const round = (mm: number) => Number(mm.toFixed(6)) + 0;
  return read(text, marking).holes.map(({ centreMm, steps }) => [
    centreMm.map(round),
    ...steps.map((step) => [
      round(step.pathDiameterMm),
      step.bottomMm === undefined ? undefined : round(step.bottomMm),
    ]),
  ]);
}

function failureOf(text: string) {
  const outcome = readCommands(text, { name: 'holes.ngc', marking: 'auto', blockDelete: false });
  if (outcome.ok) throw new Error('expected a failure');
  return outcome.failure;
}

const HEAD = 'G21 G90 G17\nM3 S9000\nG0 Z5\n';

describe('drilled holes', () => {
  test.each(['G73', 'G76', 'G81', 'G82', 'G83', 'G84', 'G85', 'G86', 'G87', 'G88', 'G89'])(
    '%s drills at its place, and the words hold for the next places up to G80',
    (code) => {
      const text = `${HEAD}${code} G98 X10 Y20 Z-6 R2 Q1.5 P0.2 F100\nX30\nY40 Z-8\nG80\nG0 X0\nM2`;
      expect(holesOf(text)).toEqual([
        [
          [10, 20],
          [0, -6],
        ],
        [
          [30, 20],
          [0, -6],
        ],
        [
          [30, 40],
          [0, -8],
        ],
      ]);
      expect(read(text).holes.map((hole) => [hole.id, hole.kind, hole.sourceLine])).toEqual([
        [0, 'drilled', 4],
        [1, 'drilled', 5],
        [2, 'drilled', 6],
      ]);
    },
  );

  test('G98 goes back up to where the tool came from, G99 to R', () => {
    // A move across at 1 below R tells: down from 5, G98 leaves it at 5, G99 at R -2: a mark.
    const behind = (code: string) =>
      read(`${HEAD}G81 ${code} X10 Y20 Z-6 R-2 F100\nG1 X60\nM2`).strokes.length;
    expect(behind('G98')).toBe(0);
    expect(behind('G99')).toBe(1);
  });

  test('L in G91 makes holes in a row, in G90 one hole', () => {
    const row = (mode: string) =>
      holesOf(`${HEAD}G0 X0 Y0\n${mode} G81 X10 Y0 Z-8 R-3 L4 F100\nM2`).map(([centre]) => centre);
    expect(row('G91')).toEqual([
      [10, 0],
      [20, 0],
      [30, 0],
      [40, 0],
    ]);
    expect(row('G90')).toEqual([[10, 0]]);
  });

  test('the approach is that of the way to the hole', () => {
    const { holes } = read(`${HEAD}G0 X50 Y0\nG81 X10 Y20 Z-6 R2 F100\nX30\nM2`);
    expect(holes.map((hole) => [hole.approachX, hole.approachY])).toEqual([
      [-1, 1],
      [1, 1],
    ]);
  });

  test('a tool that goes down with feed and up again without moving aside drills, in pecks too', () => {
    const text = `${HEAD}G0 X10 Y20\nG1 Z-2 F50\nG0 Z1\nG0 X40\nG0 Z1\nG1 Z-2\nG0 Z-1\nG1 Z-4\nG0 Z5\nM2`;
    expect(holesOf(text)).toEqual([
      [
        [10, 20],
        [0, -2],
      ],
      [
        [40, 20],
        [0, -4],
      ],
    ]);
  });

  test('a cycle at an unknown place, outside G17 or above the surface is passed over, with a note', () => {
    const notes = (text: string) => read(text).findings.map((f) => f.message);
    expect(notes(`${HEAD}G81 Z-6 R2 F100\nM2`)).toEqual([
      expect.stringMatching(/line 4 \(place unknown\)$/),
    ]);
    expect(notes(`${HEAD}G18 G81 X1 Y-6 Z2 R2 F100\nM2`)).toEqual([
      expect.stringMatching(/line 4 \(not along Z\)$/),
    ]);
    expect(notes(`${HEAD}G81 X1 Y1 Z2 R3 F100\nM2`)).toEqual([
      expect.stringMatching(/line 4 \(above the surface\)$/),
    ]);
  });

  test.each([
    ['G81 X1 Y1 Z-2', /no R/],
    ['G81 X1 Y1 R2', /no Z/],
    ['G81 X1 Y1 Z-1 R-2', /below the bottom/],
    ['G81 X1 Y1 Z-1 R2 L0', /no count/],
    ['G91 G81 X1 Y1 Z-1 R2 L1.5', /no count/],
    ['G91 G81 X1 Y1 Z-1 R2 L9999999', /more than/],
  ])('%s is refused with its line', (line, message) => {
    const failure = failureOf(`${HEAD}${line}\nM2`);
    expect(failure).toMatchObject({ code: 'PROGRAM_INVALID', figures: { line: 4 } });
    expect(failure.message).toMatch(message);
  });

  test('R and Z do not outlive a move', () => {
    const failure = failureOf(`${HEAD}G81 X1 Y1 Z-2 R2\nG0 X5\nG81 X9\nM2`);
    expect(failure.figures).toEqual({ line: 6, column: 1 });
  });
});

describe('milled holes', () => {
  const circle = [
    [20, 30],
    [8, -3],
  ];

  test.each([
    ['one arc with I', 'G2 X24 Y30 I-4'],
    ['one arc without axis words', 'G3 I-4 J0'],
    ['two arcs', 'G2 X16 Y30 I-4\nG2 X24 Y30 I4'],
    ['two arcs and a rapid to where the tool is', 'G2 X16 Y30 I-4\nG0 Z-3\nG2 X24 Y30 I4'],
    ['two arcs with R', 'G3 X16 Y30 R4\nG3 X24 Y30 R4'],
    ['four arcs', 'G3 X20 Y34 I-4 J0\nX16 Y30 I0 J-4\nX20 Y26 I4 J0\nX24 Y30 I0 J4'],
    ['an absolute centre', 'G90.1 G2 X24 Y30 I20 J30\nG91.1'],
    ['distances', 'G91 G2 X0 Y0 I-4\nG90'],
  ])('%s make a full circle', (_, arcs) => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-3 F50\n${arcs}\nG0 Z5\nM2`;
    expect(holesOf(text)).toEqual([circle]);
    expect(read(text)).toMatchObject({ strokes: [], findings: [] });
    expect(read(text).holes[0]).toMatchObject({ kind: 'milled', sourceLine: 6 });
  });

  test.each([
    ['shifted', ''],
    ['shifted and turned', 'G68 X20 Y30 R90\n'],
  ])('an absolute centre counts in %s coordinates', (_, turn) => {
    // The second system lies (100, 50) from the first, where the first hole is.
    const set = 'G10 L2 P1 X0 Y0 Z0\nG10 L2 P2 X100 Y50 Z0\n';
    const mill = `${turn}G0 X24 Y30\nG1 Z-3 F50\nG90.1 G2 X24 Y30 I20 J30\nG91.1\nG0 Z5\n`;
    const text = `${HEAD}${set}G81 X20 Y30 Z-6 R2\nG80\nG55\n${mill}M2`;
    expect(read(text).holes.map(({ centreMm }) => centreMm.map(Math.round))).toEqual([
      [20, 30],
      [120, 80],
    ]);
  });

  test('the approach is that of the way to the circle, not of its arcs', () => {
    const text = `${HEAD}G0 X60 Y0\nX24 Y30\nG1 Z-3 F50\nG2 I-4\nG0 Z5\nM2`;
    expect(read(text).holes[0]).toMatchObject({ approachX: -1, approachY: 1 });
  });

  test('three quarters of a circle are none', () => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-3 F50\nG3 X20 Y26 I-4 J0\nG0 Z5\nM2`;
    expect(read(text).holes).toEqual([]);
    expect(read(text).findings.map((f) => f.code)).toEqual(['PROGRAM_ARCS_PASSED_OVER']);
  });

  test('there and back is none', () => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-3 F50\nG3 X16 I-4\nG2 X24 I4\nG0 Z5\nM2`;
    expect(read(text, 'cutter').holes).toEqual([]);
  });

  test('a finishing pass the other way round is the same step', () => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-2 F50\nG3 I-4\nG1 Z-3\nG3 I-4\nG2 I-4\nG0 Z5\nM2`;
    expect(holesOf(text, 'cutter')).toEqual([circle]);
    // Without the plunge between them, too.
    const joined = `${HEAD}G0 X24 Y30\nG1 Z-3 F50\nG3 I-4\nG2 I-4\nG0 Z5\nM2`;
    expect(holesOf(joined, 'cutter')).toEqual([circle]);
  });

  test('a helix goes as deep as its last turn, whether turn by turn or by P', () => {
    const helix = (turns: string) => `${HEAD}G0 X24 Y30\nG1 Z0 F50\n${turns}\nG0 Z5\nM2`;
    expect(holesOf(helix('G3 I-4 Z-1\nG3 I-4 Z-2\nG3 I-4 Z-3'))).toEqual([circle]);
    expect(holesOf(helix('G3 I-4 Z-3 P3'))).toEqual([circle]);
  });

  test('a helix that enters the board half way through its only turn is no full circle', () => {
    // From Z 1 to Z -1: half the turn cuts.
    const text = `${HEAD}G0 X24 Y30\nG1 Z1 F50\nG3 I-4 Z-1\nG0 Z5\nM2`;
    expect(read(text, 'cutter').holes).toEqual([]);
    // One more at full depth, and the half before it joins.
    const more = `${HEAD}G0 X24 Y30\nG1 Z1 F50\nG3 I-4 Z-1\nG3 I-4\nG0 Z5\nM2`;
    expect(holesOf(more)).toEqual([
      [
        [20, 30],
        [8, -1],
      ],
    ]);
  });

  test('four arcs with words of three decimals close, and stay one centre with the next ring', () => {
    // Circles about (10.0005, 5) with radii 3.3335 and 5; all words rounded to 0.001.
    const text = `${HEAD}G0 X13.334 Y5\nG1 Z-2 F50
G3 X10.001 Y8.334 I-3.333 J0\nX6.667 Y5 I0 J-3.334\nX10.001 Y1.667 I3.333 J0\nX13.334 Y5 I0 J3.333
G1 X15.001\nG3 X15.001 Y5 I-5 J0\nG0 Z5\nM2`;
    const { holes, strokes, findings } = read(text);
    expect(strokes).toEqual([]);
    expect(findings).toEqual([]);
    expect(holes).toHaveLength(1);
    expect(holes[0]!.steps.map((step) => Math.round(step.pathDiameterMm * 100))).toEqual([
      667, 1000,
    ]);
  });

  test('the way from the centre to the rim, between rings and back is no stroke', () => {
    const pocket = `${HEAD}G0 X20 Y30\nG1 Z-2 F50\nG1 X22\nG3 I-2\nG1 X24\nG3 I-4\nG1 X20\nG0 Z5\nM2`;
    expect(read(pocket).strokes).toEqual([]);
    expect(holesOf(pocket)).toEqual([
      [
        [20, 30],
        [4, -2],
        [8, -2],
      ],
    ]);
  });

  test('a way in on a small arc belongs to the circle, a way out of it does not', () => {
    // Half a circle of radius 2 about (22, 30) leads from the centre (20, 30) to the rim (24, 30).
    const text = `${HEAD}G0 X20 Y30\nG1 Z-2 F50\nG3 X24 I2\nG3 I-4\nG1 X60\nG0 Z5\nM2`;
    expect(read(text).strokes.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [24, 30],
        [60, 30],
      ],
    ]);
    expect(read(text).findings).toEqual([]);
  });

  test('clearing that runs into its finishing circle belongs to it', () => {
    const text = `${HEAD}G0 X18 Y29\nG1 Z-2 F50\nX22\nY31\nX18\nY30\nX16\nG2 I4\nG0 Z5\nM2`;
    expect(read(text).strokes).toEqual([]);
  });

  test('a cross marked inside a circle, lifted off between, stays two strokes', () => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-2 F50\nG2 I-4\nG0 Z5\nG0 X16 Y30\nG1 Z-2\nX24\nG0 Z5\nG0 X20 Y26\nG1 Z-2\nY34\nG0 Z5\nM2`;
    expect(read(text).strokes).toHaveLength(2);
    expect(read(text).holes).toHaveLength(1);
    // Lifted with feed, and from the rim where the circle ended.
    const line = `${HEAD}G0 X24 Y30\nG1 Z-2 F50\nG2 I-4\nG1 Z5\nG1 Z-2\nX16\nG0 Z5\nM2`;
    expect(read(line).strokes).toHaveLength(1);
  });

  test('counterbore, through hole and pilot hole about one centre are one hole with three steps', () => {
    const ring = (radius: number, z: number) =>
      `G0 X${20 + radius} Y30\nG1 Z${z} F50\nG3 I${-radius}\nG0 Z5\n`;
    const text = `${HEAD}${ring(6, -3)}${ring(3, -3)}${ring(3, -12)}G81 X20 Y30 Z-15 R1\nG80\nM2`;
    expect(holesOf(text)).toEqual([
      [
        [20, 30],
        [12, -3],
        [6, -12],
        [0, -15],
      ],
    ]);
    expect(read(text).holes[0]!.kind).toBe('milled');
  });

  test('passes that deepen one circle are one step, down to the deepest', () => {
    const text = `${HEAD}G0 X24 Y30\nG1 Z-1 F50\nG2 I-4\nG1 Z-2\nG2 I-4\nG1 Z-3\nG2 I-4\nG0 Z5\nM2`;
    expect(holesOf(text)).toEqual([circle]);
  });

  test('turned coordinates turn holes along', () => {
    // A quarter turn about (0, 0) brings (20, 30) to (-30, 20).
    const text = `${HEAD}G0 X0 Y0\nG68 X0 Y0 R90\nG0 X24 Y30\nG1 Z-3 F50\nG2 I-4\nG0 Z5\nG81 X1 Y2 Z-3 R1\nG80\nM2`;
    expect(holesOf(text)).toEqual([
      [
        [-30, 20],
        [8, -3],
      ],
      [
        [-2, 1],
        [0, -3],
      ],
    ]);
  });
});

describe('lasers', () => {
  test('burnt circles are holes of unknown depth, circles with the beam off are none', () => {
    const text = 'G21 M3 S0\nG0 X24 Y30\nG1 X24 F900 S0\nG2 I-4 S300\nG0 X54\nG2 I-4 S0\nM5\nM2';
    expect(holesOf(text, 'laser')).toEqual([
      [
        [20, 30],
        [8, undefined],
      ],
    ]);
  });

  test('a circle burnt in two halves is full, though the beam went off between', () => {
    const text = 'G21 M3 S300\nG0 X24 Y30\nG2 X16 I-4 F900\nM5\nM3\nG2 X24 I4\nM5\nM2';
    expect(holesOf(text, 'laser')).toHaveLength(1);
  });

  test('a head that goes down and up with the beam off drills nothing, with the beam on it does', () => {
    const text = (power: string) => `G21 M3 ${power}\nG0 X24 Y30 Z1\nG1 Z-2 F900\nG0 Z1\nM5\nM2`;
    expect(holesOf(text('S0'), 'laser')).toEqual([]);
    expect(holesOf(text('S9'), 'laser')).toEqual([
      [
        [24, 30],
        [0, -2],
      ],
    ]);
  });

  test('a cutting stage behind a marking stage has known depths', () => {
    const text = `G21 M3 S0\nG0 X0 Y0\nG1 X50 F900 S300\nM5\nM0\nG0 Z5\nM3 S9000\nG0 X24 Y30\nG1 Z0 F90\nG3 I-4 Z-3\nG3 I-4\nG0 Z5\nM5\nM2`;
    const program = read(text);
    expect(program.marking).toBe('laser');
    expect(program.strokes).toHaveLength(1);
    expect(holesOf(text)).toEqual([
      [
        [20, 30],
        [8, -3],
      ],
    ]);
    expect(program.stops).toEqual([{ line: 5, optional: false }]);
  });
});

describe('lasers and drills', () => {
  test('holes of a second stage that nothing relates do not stop the marks of the first', () => {
    const drill = 'G81 X1 Y1 Z-5 R2 F100\nG80';
    const text = `G21 M3 S300\nG0 X0 Y0\nG1 X50 F900\nM5\nG0 Z5\nG55\n${drill}\nG56\n${drill}\nM2`;
    const program = read(text);
    expect(program).toMatchObject({ marking: 'laser', holes: [] });
    expect(program.strokes).toHaveLength(1);
    expect(program.findings.map((f) => f.message)).toContainEqual(
      expect.stringMatching(/lines 7 \(other coordinates\), 10 \(other coordinates\)/),
    );
  });
});

describe('programs of holes alone', () => {
  const text = `${HEAD}G81 X10 Y20 Z-6 R2 F100\nX30\nG80\nM2`;

  test('are read as commands, as cut; as a program of marks they are refused', () => {
    expect(read(text)).toMatchObject({ marking: 'cutter', strokes: [], largestExtentMm: 0 });
    // A move across above the board with the spindle on is no burning, though it could be.
    const moved = read(`${HEAD}G0 X0 Y0\nG1 X9 F900\nG81 X10 Y20 Z-6 R2 F100\nM2`);
    expect(moved).toMatchObject({ marking: 'cutter', strokes: [] });
    expect(moved.findings.map((f) => f.code)).toEqual(['PROGRAM_MARKING_UNCERTAIN']);
    const outcome = readProgram(text, { name: 'h.ngc', marking: 'auto', blockDelete: false });
    expect(outcome).toMatchObject({ ok: false, failure: { code: 'PROGRAM_NO_MARKS' } });
  });

  test('in coordinates that nothing relates are refused with the line', () => {
    const failure = failureOf(`${HEAD}G81 X10 Y20 Z-6 R2 F100\nG55\nX30 Y20\nM2`);
    expect(failure).toMatchObject({ code: 'PROGRAM_INVALID', figures: { line: 6 } });
  });

  test('beside strokes that nothing relates to them are passed over', () => {
    const program = read(
      `${HEAD}G0 X0 Y0\nG1 Z-1 F9\nX50\nG0 Z5\nG55\nG81 X10 Y20 Z-6 R2\nG80\nM2`,
    );
    expect(program.holes).toEqual([]);
    expect(program.findings.map((f) => f.message)).toContainEqual(
      expect.stringMatching(/line 9 \(other coordinates\)/),
    );
  });
});
