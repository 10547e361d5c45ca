import { describe, expect, it } from 'vitest';
import { checkResult, datumOf } from '../../../src/compensation/check-result.js';
import type { LandingTerms } from '../../../src/compensation/choose-terms.js';
import { landingMap } from '../../../src/compensation/landing-map.js';
import { rewriteProgram } from '../../../src/compensation/rewrite-program.js';
import { traceProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { LINES_X, landingTerms } from './landing-terms.js';

/** X comes out 1 mm too far at Y 1000: the command for (x, y) is (x - y / 1000, y). */
const LEANING = landingTerms({ squarenessRad: 0.001 });
/** Both axes come out alike too short: the command is 1.25 times the place. */
const TOO_SHORT = landingTerms({ scaleX: -0.2, scaleY: -0.2 });
/** The line at X 450 lies 0.06 mm too far, with none of it at its neighbours. */
const ONE_LINE_OFF = landingTerms({
  tableX: LINES_X.map((at) => ({ at, value: at === 450 ? 0.06 : 0 })),
});
/** Seen across, the same makes Y moves along X 450 no longer straight: X motion dips at 450. */
const BENT = landingTerms({
  straightnessX: LINES_X.map((at) => ({ at, value: (0.3 * (at - 450) ** 2) / 450 ** 2, u: 0.001 })),
});

function rewrite(text: string, terms: LandingTerms = LEANING, toleranceMm = 0.005) {
  const trace = unwrap(traceProgram('test', text, false));
  const map = landingMap(terms, [0, 0]);
  const datum = datumOf(trace.lines)!;
  const rewritten = rewriteProgram({ text, trace, datum, map, toleranceMm, zeroMm: [0, 0] });
  expect(rewritten.refusals).toEqual([]);
  unwrap(checkResult('test', rewritten.text, rewritten.ends, map, [0, 0]));
  return rewritten;
}

const linesOf = (text: string, terms?: LandingTerms) => rewrite(text, terms).text.split('\n');

describe('a line that moves in X and Y', () => {
  it('names where to go instead, and keeps every other word, its order, its case and its comments', () => {
    expect(linesOf('G21 G90 G0 X0 Y0\nN30  g1 x100  y200 (edge) F500 ; slow\nM30')[1]).toBe(
      'N30  g1 x99.800  y200 (edge) F500 ; slow',
    );
    expect(linesOf('G21G90G0X0Y0\nG1X100Y200F500\nM30')[1]).toBe('G1X99.800Y200F500');
  });

  it('gains the word of the other axis where that has to move along', () => {
    const lines = linesOf('G90 G0 X100 Y200\nG1 Y400 F500\nX0\nX50\nM30');
    expect(lines).toEqual([
      'G90 G0 X99.800 Y200',
      'G1 X99.600 Y400 F500',
      'X-0.400',
      'X49.600',
      'M30',
    ]);
    expect(linesOf('G90 G0 X0 Y0\nG1 X9 F5\nY300(up)\nM30')[2]).toBe('X8.700 Y300(up)');
  });

  it('goes by differences in G91, from where it really stands, so that rounding does not add up', () => {
    const text = `G90 G0 X0 Y0\nG91\n${'G1 Y0.7\n'.repeat(100)}G90 G1 X5 Y70\nM30`;
    const { ends } = rewrite(text);
    for (const { command, meant } of ends) {
      expect(Math.abs(command[0] - (meant![0] - meant![1] / 1000))).toBeLessThan(0.00051);
      expect(command[1]).toBeCloseTo(meant![1], 9);
    }
    expect(ends).toHaveLength(102);
  });

  it('is written to a ten-thousandth in inches', () => {
    expect(linesOf('G20 G90 G0 X0 Y0\nG1 X1 Y10.5 F9\nM30')[1]).toBe('G1 X0.9895 Y10.5 F9');
  });

  it('stays byte for byte where nothing changes by half a digit', () => {
    const text = 'G90 G0 X0 Y0\nG1 X10.123456 Y0.4 F500\nG1 X+5. Y.1\nM30';
    expect(rewrite(text).text).toBe(text);
  });

  it('may compute its words; parameters stay as they are', () => {
    expect(
      linesOf('#1=100 #2=2\nG90 G0 X0 Y0\nG1 X#1 Y[#1*#2] F#1 #1=7\nG1 X#1 Y0 Z#2\nM30'),
    ).toEqual([
      '#1=100 #2=2',
      'G90 G0 X0 Y0',
      'G1 X99.800 Y[#1*#2] F#1 #1=7',
      'G1 X#1 Y0 Z#2',
      'M30',
    ]);
  });
});

describe('a line over a bend of the machine', () => {
  it('is split where it bends: the first piece keeps all other words, a stop comes behind the last', () => {
    const lines = linesOf('G90 G0 X0 Y0 Z0\nN9 G1 X900 Z-9 F500 M8 M1 (long)\nM30', BENT);
    expect(lines[1]).toMatch(/^N9 G1 X[\d.]+ Y[\d.]+ Z-[\d.]+ F500 M8 \(long\)$/);
    const pieces = lines.slice(2, lines.indexOf('M1'));
    expect(pieces.length).toBeGreaterThan(4);
    for (const piece of pieces) expect(piece).toMatch(/^G1 X[\d.]+ Y-?[\d.]+ Z-[\d.]+$/);
    expect(pieces.at(-1)).toMatch(/ Z-9$/);
    expect(lines.slice(lines.indexOf('M1'))).toEqual(['M1', 'M30']);
  });

  it('goes down evenly along it, by differences too', () => {
    const { text } = rewrite('G90 G0 X0 Y0 Z1\nG91 G1 X900 Z-9 F500\nM30', BENT);
    const { lines } = unwrap(traceProgram('test', text, false));
    const path = lines.flatMap(({ motions }) => motions).slice(1);
    for (const { to } of path) expect(to[2]).toBeCloseTo(1 - to[0]! / 100, 2);
    expect(path.at(-1)!.to[2]).toBeCloseTo(-8, 9);
  });

  it('is left whole as a rapid move', () => {
    expect(linesOf('G90 G0 X0 Y0\nG0 X900\nM30', BENT)).toHaveLength(3);
  });

  it('is left whole where it only stretches', () => {
    expect(linesOf('G90 G0 X0 Y0\nG1 X900 F500\nM30', ONE_LINE_OFF)).toHaveLength(3);
    const oblique = linesOf('G90 G0 X0 Y0\nG1 X900 Y600 F500\nM30', ONE_LINE_OFF);
    // It bends at the line before, at the line and at the line behind.
    expect(oblique).toHaveLength(6);
    expect(oblique[2]).toBe('G1 X449.940 Y300.000');
  });
});

describe('an arc', () => {
  it('stays one where the machine is similar to a true one', () => {
    const text = 'G90 G0 X10 Y0 F99\nG3 X0 Y10 I-10 J0\nG2 X10 Y0 R10\nG3 I-10\nM30';
    expect(linesOf(text, TOO_SHORT)).toEqual([
      'G90 G0 X12.500 Y0 F99',
      'G3 X0 Y12.500 I-12.5000 J0.0000',
      'G2 X12.500 Y0 I0.0000 J-12.5000',
      'G3 I-12.5000',
      'M30',
    ]);
  });

  it('stays one with an absolute centre, in shifted coordinates, and with several turns', () => {
    const text = 'G90 G0 X10 Y0\nG52 X5\nG90.1 G3 X-5 Y10 I-5 J0 F9\nG91.1 G2 J-4 Z-3 P2\nM30';
    expect(linesOf(text, TOO_SHORT)).toEqual([
      'G90 G0 X12.500 Y0',
      'G52 X5',
      'G90.1 G3 X-5 Y12.500 I-5.0000 J0.0000 F9',
      'G91.1 G2 J-5.0000 Z-3 P2',
      'M30',
    ]);
  });

  it('of several turns has the chords of each of them', () => {
    const chords = (turns: number) =>
      linesOf(`G90 G0 X400 Y300 Z0\nG2 I-100 Z-2 P${turns} F500\nM30`).length - 2;
    expect(chords(3) / chords(1)).toBeGreaterThan(2.5);
    expect(chords(3) / chords(1)).toBeLessThan(3.5);
  });

  it('becomes chords where it is not, and what relies on its code still has it', () => {
    const lines = linesOf(
      'G90 G0 X100 Y0\nG3 X0 Y100 I-100 J0 F500 (round)\nX-100 Y0 I0 J-100\nM30',
    );
    expect(lines[1]).toMatch(/^G1 X[\d.]+ Y[\d.]+ F500 \(round\)$/);
    expect(lines.join('\n')).not.toMatch(/G3|I|J/);
    const small = linesOf('G90 G0 X100 Y0\nG3 X0 Y100 I-100 J0 F500\nX-1 Y99 I0 J-1\nM30');
    // The little arc is round within the tolerance: an arc, with its code.
    expect(small.at(-2)).toMatch(
      /^G3 X-1\.099 Y99 I0\.0000 J-1\.0000$|^G3 X-1\.099 Y99 I[-\d.]+ J[-\d.]+$/,
    );
  });

  it('has its chords within the tolerance, and no more of them than twice what that needs', () => {
    const circle = 'G90 G0 X400 Y300\nG2 I-100 F500\nM30';
    for (const toleranceMm of [0.05, 0.005]) {
      const count = rewrite(circle, LEANING, toleranceMm).text.split('\n').length - 2;
      // A chord over an angle a bulges by r (1 - cos a/2).
      const needed = (2 * Math.PI) / (2 * Math.acos(1 - toleranceMm / 100));
      expect(count).toBeGreaterThan(needed);
      expect(count).toBeLessThan(2 * needed);
    }
  });

  it('that is too short for its rounded ends does not become a circle', () => {
    const { text } = rewrite('G90 G0 X100 Y100\nG3 X99.9999 Y100.0001 R0.5 F9\nG1 X0\nM30');
    const { lines } = unwrap(traceProgram('test', text, false));
    const sweeps = lines.flatMap(({ motions }) => motions).map(({ shape }) => shape);
    for (const shape of sweeps)
      if (shape?.kind === 'arc') expect(Math.abs(shape.sweepRad)).toBeLessThan(1);
  });
});

describe('drilling cycles', () => {
  it('drill where the hole is meant to be, also repeated in a row, with the heights of the first', () => {
    expect(
      linesOf(
        'G90 G0 X0 Y0 Z9\nG98 G81 X10 Y100 Z-5 R2 F90\nX20\nG91 X10 Y100 L3 Z-3 R-4\nG80\nM30',
      ),
    ).toEqual([
      'G90 G0 X0 Y0 Z9',
      'G98 G81 X9.900 Y100 Z-5 R2 F90',
      'X19.900',
      'G91 X9.900 Y100 Z-3 R-4',
      'X9.900 Y100 Z-3 R-4',
      'X9.900 Y100 Z-3 R-4',
      'G80',
      'M30',
    ]);
  });
});

describe('a new name for the present position', () => {
  it('is shifted by as much as the tool stands aside, so that all that follows stays', () => {
    expect(linesOf('G90 G0 X100 Y200\nG92 X0 Y0 Z7\nG1 X0 Y100 F9\nM30')).toEqual([
      'G90 G0 X99.800 Y200',
      'G92 X-0.200000 Y0 Z7',
      'G1 X-0.300 Y100 F9',
      'M30',
    ]);
  });

  it('may be given by G10 L20 as well, and for one axis alone', () => {
    expect(linesOf('G90 G0 X100 Y200\nG10 L20 P1 X0\nG1 X0 Y100 F9\nM30')).toEqual([
      'G90 G0 X99.800 Y200',
      'G10 L20 P1 X-0.200000',
      'G1 X-0.100 Y100 F9',
      'M30',
    ]);
  });

  it('at the start, where nothing is known yet, stays as it is', () => {
    expect(linesOf('G90 G92 X0 Y0\nG1 X0 Y100 F9\nM30')).toEqual([
      'G90 G92 X0 Y0',
      'G1 X-0.100 Y100 F9',
      'M30',
    ]);
  });
});

describe('loops and subprograms', () => {
  it('are written out as they are carried out: expressions as numbers, comments and numbers kept once', () => {
    const text = [
      '%',
      'O77 (part)',
      'G90 G0 X0 Y0',
      '#1=2 (rows)',
      'O1 repeat [#1]',
      'N5 G1 X0 Y[#1*100] F[#1*50] (row)',
      '#1=[#1+1]',
      'O1 endrepeat',
      '',
      'M98 P9 (again)',
      'G0 Z5',
      'M30',
      'O9',
      'G1 Z-1 M8',
      'M99',
      '%',
      '',
    ].join('\r\n');
    expect(rewrite(text).text.split('\r\n')).toEqual([
      '%',
      'O77 (part)',
      'G90 G0 X0 Y0',
      '(rows)',
      'N5 G1 X-0.200 Y200 F100 (row)',
      'G1 X-0.300 Y300 F150 (row)',
      '',
      '(again)',
      'G1 Z-1 M8',
      'G0 Z5',
      'M30',
      '%',
      '',
    ]);
  });
});

describe('everything else', () => {
  it('stays byte for byte, behind the end of the program too', () => {
    const still = [
      'G21 G17 G40 (start)',
      '',
      '  ;',
      'T1 M6',
      'G43 H1',
      'S900 M3',
      'G4 P1',
      'Z5',
      '/M8',
    ];
    const behind = ['M30', 'G1 X5 Y500 what stands here is never read', '%', ''];
    const text = [
      '%',
      ...still.slice(0, 7),
      'G90 G0 X0 Y0',
      ...still.slice(7),
      'X0 Y100',
      ...behind,
    ];
    const lines = linesOf(text.join('\n'));
    text[text.indexOf('X0 Y100')] = 'X-0.100 Y100';
    expect(lines).toEqual(text);
  });
});
