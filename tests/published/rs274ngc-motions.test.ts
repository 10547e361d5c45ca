/**
 * Arcs, drilling cycles and presets of RS-274/NGC. Source: T. R. Kramer, F. M. Proctor, E. Messina,
 * The NIST RS274NGC Interpreter - Version 3, NISTIR 6556 (2000), sections 3.5.3, 3.5.16 and 3.5.18,
 * table 10, Appendix C.3.
 */

import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { decodeProgramText, readCommands } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

const options = { name: 'nist.ngc', marking: 'cutter', blockDelete: false } as const;

function read(text: string) {
  return unwrap(readCommands(text, options));
}

/** The report prints four decimals. */
const PRINTED_DIGITS = 3;

describe('section 3.5.3, arcs', () => {
  test('G2 X10 Y16 I3 J4 Z9 from (7, 7) goes round (10, 11) with radius 5', () => {
    // Clockwise from the lower left, over the leftmost point (5, 11), to the top (10, 16).
    const { envelopeMm } = read('G21 G0 X7 Y7 Z7\nG17 G2 X10 Y16 I3 J4 Z9 F100\nM2');
    expect(envelopeMm.x![0]).toBeCloseTo(5, 9);
    expect(envelopeMm.x![1]).toBeCloseTo(10, 9);
    expect(envelopeMm.y).toEqual([7, 16]);
    expect(envelopeMm.z).toEqual([7, 9]);
  });

  test('G2 X0 Y1 R7.01 from (3, 1) goes round (1.5, 7.8476)', () => {
    // Its lowest point lies a radius below the centre.
    const { envelopeMm } = read('G21 G0 X3 Y1\nG2 X0 Y1 R7.01 F100\nM2');
    expect(envelopeMm.y![0]).toBeCloseTo(7.8476 - 7.01, PRINTED_DIGITS);
    expect(envelopeMm.y![1]).toBe(1);
    expect(envelopeMm.x).toEqual([0, 3]);
  });

  test('an R below 0 takes the long way about the same chord', () => {
    // Chord 3 wide, R -7.01: the centre lies below, at 1 - 6.8476; the arc reaches 7.01 further.
    const { envelopeMm } = read('G21 G0 X3 Y1\nG2 X0 Y1 R-7.01 F100\nM2');
    expect(envelopeMm.y![0]).toBeCloseTo(1 - 6.8476 - 7.01, PRINTED_DIGITS);
    expect(envelopeMm.x![0]).toBeCloseTo(1.5 - 7.01, PRINTED_DIGITS);
    expect(envelopeMm.x![1]).toBeCloseTo(1.5 + 7.01, PRINTED_DIGITS);
  });

  test('an arc with R that ends where it starts is an error, with I and J a full circle', () => {
    const outcome = readCommands('G21 G0 X3 Y1\nG2 X3 Y1 R7\nM2', options);
    expect(outcome).toMatchObject({ failure: { code: 'PROGRAM_INVALID', figures: { line: 2 } } });
    expect(read('G21 G0 X3 Y1\nG2 X3 Y1 I2 F9\nM2').envelopeMm.x).toEqual([3, 7]);
  });
});

describe('section 3.5.16, drilling cycles', () => {
  // The examples of the section, from memory, lowered by 10 where the holes must lie in the board.
  test('G90 G81 G98 X4 Y5 Z1.5 R2.8 from (1, 2, 3) drills at (4, 5) and comes back to 3', () => {
    const { envelopeMm } = read('G21 G0 X1 Y2 Z3\nG90 G81 G98 X4 Y5 Z1.5 R2.8 F100\nM2');
    expect(envelopeMm).toEqual({ x: [1, 4], y: [2, 5], z: [1.5, 3] });
    const lowered = read(
      'G21 G0 X1 Y2 Z-7\nG90 G81 G98 X4 Y5 Z-8.5 R-7.2 F100\nG91 G1 X1\nG0 Z2\nM2',
    );
    expect(lowered.holes).toMatchObject([
      { centreMm: [4, 5], kind: 'drilled', steps: [{ pathDiameterMm: 0, bottomMm: -8.5 }] },
    ]);
    // Back at -7: two up from there is -5, the highest place of all.
    expect(lowered.envelopeMm.z).toEqual([-8.5, -5]);
  });

  test('G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 from (1, 2, 3) drills three in a row from 4.8 to 4.2', () => {
    const { envelopeMm } = read('G21 G0 X1 Y2 Z3\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F100\nM2');
    expect([envelopeMm.x, envelopeMm.y]).toEqual([
      [1, 13],
      [2, 17],
    ]);
    expect(envelopeMm.z![1]).toBeCloseTo(4.8, 12);
    const { holes } = read('G21 G0 X1 Y2 Z-7\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F100\nM2');
    expect(holes.map((hole) => hole.centreMm)).toEqual([
      [5, 7],
      [9, 12],
      [13, 17],
    ]);
    for (const { steps } of holes) expect(steps[0]!.bottomMm).toBeCloseTo(-5.8, 12);
  });

  const file = new URL('../../../shared/data/nist/rs274ngc_c3.ngc', import.meta.url);
  if (!existsSync(file)) console.info('skipped: the example program of Appendix C.3 is not there');

  test.skipIf(!existsSync(file))('the example of Appendix C.3 drills where it says', () => {
    // The interpreter of the report starts at zero.
    const text = unwrap(decodeProgramText(readFileSync(file))).replace('g20 ', 'g20 g0 x0 y0 z0 ');
    const { holes, findings } = read(text);
    // Worked by hand, in inches: G98 goes back to the higher of old Z and R, which in G91 climbs by R
    // with each line: 0.2, 0.2, 0.3; from line 14 on 0.5, 0.7, 0.9. Z counts from R in G91.
    const expected = [
      [3, 3, 4, -1.1],
      [4, 4, 4, -0.9],
      [4, 5, 4, -0.9],
      [4, 6, 4, -0.9],
      [5, 6, 2, -0.8],
      [6, 4, 5, -1.1],
      [7, 2, 5, -3],
      [8, 0, 7, -2.7],
      [8, -2, 9, -2.7],
      [8, -4, 11, -2.7],
      [8, -6, 13, -2.7],
      [9, 5, 6, -1.1],
      [10, 6, 7, -1.1],
      [11, 7, 8, -1.1],
      [12, 8, 9, -1.1],
      [13, 9, 10, -1.1],
      [14, 10, 10, -0.6],
      [15, 20, 21, -0.4],
      [16, 31, 33, -0.2],
    ];
    const inches = holes.map(({ sourceLine, centreMm, steps }) => [
      sourceLine,
      ...[...centreMm, steps[0]!.bottomMm!].map((mm) => Number((mm / 25.4).toFixed(9))),
    ]);
    expect(inches).toEqual(expected);
    const passed = findings.find(({ code }) => code === 'PROGRAM_HOLES_PASSED_OVER')!;
    // 1.1 - 1.1 is the surface itself, what follows lies above; behind that, the other planes.
    expect(passed.message).toMatch(/lines 18 \(above the surface\), 19 .*, 22 \(not along Z\)/);
  });
});

describe('section 3.5.18, presets', () => {
  test('G92 X7 at X4 makes the offset -3, G92 X9 then -5', () => {
    const mark = (presets: string) =>
      read(`G21 G0 X0 Y0 Z-1\nG1 X4 F9\n${presets}\nG1 X10 Y1\nM2`).strokes.at(-1)!.toMm[0];
    expect(mark('G92 X7')).toBe(7);
    expect(mark('G92 X7\nG92 X9')).toBe(5);
  });
});
