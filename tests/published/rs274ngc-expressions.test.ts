/**
 * Expressions and parameters of RS-274/NGC. Source: T. R. Kramer, F. M. Proctor, E. Messina, The
 * NIST RS274NGC Interpreter - Version 3, NISTIR 6556 (2000), sections 3.3.2 and 3.3.3, Appendix C.
 */

import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { decodeProgramText, readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

const options = { name: 'nist.ngc', marking: 'auto', blockDelete: false } as const;

/** Where G1 X goes, with the beam on; each move is a stroke of its own, in a row of its own. */
function targetsOf(values: readonly string[], before = ''): number[] {
  const moves = values.map((value, row) => `g0 x900 y${row}\ng1 x ${value}`);
  const text = `${before}\ng21 m3 s1 f20\n${moves.join('\n')}\nm2`;
  const program = unwrap(readProgram(text, options));
  expect(program.strokes).toHaveLength(values.length);
  return program.strokes.map((stroke) => stroke.toMm[0]);
}

function failureOf(text: string) {
  const outcome = readProgram(text, options);
  if (outcome.ok) throw new Error('expected a failure');
  return outcome.failure;
}

/** The report prints at most four decimals; some arguments are rounded to four as well. */
const PRINTED_DIGITS = 3;

describe('Appendix C.2, the values in its comments', () => {
  test.each([
    ['[1 + 2]', 3],
    ['[1 - 2]', -1],
    ['[1 --3]', 4],
    ['[2/5]', 0.4],
    ['[3.0 * 5]', 15],
    ['[0 OR 0]', 0],
    ['[0 OR 1]', 1],
    ['[2 or 2]', 1],
    ['[0 AND 0]', 0],
    ['[0 AND 1]', 0],
    ['[2 and 2]', 1],
    ['[0 XOR 0]', 0],
    ['[0 XOR 1]', 1],
    ['[2 xor 2]', 0],
    ['[15 MOD 4.0]', 3],
    ['[1 + 2 * 3 - 4 / 5]', 6.2],
    ['sin[30]', 0.5],
    ['cos[0.0]', 1],
    ['tan[60.0]', 1.7321],
    ['sqrt[3]', 1.7321],
    ['atan[1.7321]/[1.0]', 60.0007],
    ['asin[1.0]', 90],
    ['acos[0.707107]', 45],
    ['abs[20.0]', 20],
    ['abs[-1.23]', 1.23],
    ['round[-0.499]', 0],
    ['round[-0.5001]', -1],
    ['round[2.444]', 2],
    ['round[9.975]', 10],
    ['fix[-0.499]', -1],
    ['fix[-0.5001]', -1],
    ['fix[2.444]', 2],
    ['fix[9.975]', 9],
    ['fup[-0.499]', 0],
    ['fup[-0.5001]', 0],
    ['fup[2.444]', 3],
    ['fup[9.975]', 10],
    ['exp[2.3026]', 10.00015],
    ['ln[10.0]', Math.LN10],
    ['[2 ** 3.0]', 8],
    // Worked out by hand: 2 + asin[0.131190] / [atan[4 * 2.1 * 4.098780] / [-18]]**2.
    ['[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]', 2.000545],
    ['sqrt[3**2 + 4**2]', 5],
  ])('%s is %d', (text, expected) => {
    expect(targetsOf([text])[0]).toBeCloseTo(expected, PRINTED_DIGITS);
  });

  const file = new URL('../../../shared/data/nist/rs274ngc_c2.ngc', import.meta.url);
  if (!existsSync(file)) console.info('skipped: the example program of Appendix C.2 is not there');

  test.skipIf(!existsSync(file))('the example itself goes through the X of its comments', () => {
    // The beam is put on, and Y counts the lines, so that no two moves become one stroke.
    const text = unwrap(decodeProgramText(readFileSync(file)))
      .replace('g21 g1 x3', 'g21 m3 s1 g1 x3 y0')
      .replace(/^(n(\d+)) (?=x|#3)/gm, '$1 y$2 ');
    const program = unwrap(readProgram(text, options));
    const ends = new Map(program.strokes.map((s) => [s.toMm[1], s.toMm[0]]));
    const wanted = [...text.matchAll(/^n(\d+) .*\(x should be (-?[\d.]+)\)/gm)];
    expect(wanted.length).toBeGreaterThan(38);
    for (const [, line, x] of wanted) {
      expect(ends.get(Number(line)), `N${line}`).toBeCloseTo(Number(x), 2);
    }
    // "parameters set in parallel, so x should be 7, not 5", and the next line 5, not 1.1.
    expect([ends.get(440), ends.get(450)]).toEqual([7, 5]);
    expect(ends.get(460)).toBeCloseTo(2.000545, 6);
  });
});

describe('section 3.3.2.3, precedence', () => {
  test('the example of the section, [2.0 / 3 * 1.5 - 5.5 / 11.0], is 0.5', () => {
    expect(targetsOf(['[2.0 / 3 * 1.5 - 5.5 / 11.0]'])[0]).toBeCloseTo(0.5, 12);
  });

  test('powers come first, then products, then sums, each from left to right', () => {
    // Worked by hand.
    expect(targetsOf(['[2 ** 3 ** 2]', '[2 * 3 ** 2]', '[2 + 3 * 4]', '[7 MOD 4 * 2]'])).toEqual([
      64, 18, 14, 6,
    ]);
    expect(targetsOf(['[12 / 3 / 2]', '[9 - 3 - 2]', '[[2 + 3] * 4]', '[-2 ** 2]'])).toEqual([
      2, 4, 20, 4,
    ]);
    expect(targetsOf(['[1 - 1 OR 0]', '[2 * 0 AND 1]', '[1 OR 1 AND 0]'])).toEqual([0, 0, 0]);
  });

  test('MOD leaves a rest that is not below 0', () => {
    // From memory of the published interpreter; the report tells nothing of negative values.
    expect(targetsOf(['[-7 MOD 4]', '[7 MOD -4]', '[-8 MOD 4]'])).toEqual([1, 3, 0]);
  });

  test('comparisons come between sums and logic', () => {
    const values = ['[1 + 1 EQ 2]', '[3 GT 2 AND 2 LT 1 + 2]', '[1 NE 1 OR 5 GE 5]', '[2 LE 1]'];
    expect(targetsOf(values)).toEqual([1, 1, 1, 0]);
    expect(targetsOf(['[0.1 + 0.2 EQ 0.3]', '[[2 GT 1] + [1 GT 2]]'])).toEqual([1, 1]);
  });

  test('a sum behind AND, OR, XOR is refused: the standard takes it last, later readers first', () => {
    const failure = failureOf('g1 x[1 OR 1 - 1]');
    expect(failure.figures).toEqual({ line: 1, column: 8 });
    expect(targetsOf(['[[1 OR 1] - 1]', '[1 OR [1 - 1]]'])).toEqual([0, 1]);
  });
});

describe('section 3.3.2.2 and 3.3.3, parameters', () => {
  test('# binds tightest', () => {
    const set = '#1=2 #2=30\n#3=5';
    expect(targetsOf(['[#1+2]', '##1', '#[1+2]', '#[#1]', '-#3'], set)).toEqual([4, 30, 5, 30, -5]);
  });

  test('settings wait for the whole line, and the last of one parameter holds', () => {
    const head = 'g21 m3 s1 g0 x0 y0 #3=15\n';
    const text = `${head}#3=6 g1 x#3\ny9 x#3\n#3=7 #3=8\ny18 x#3\nm2`;
    const program = unwrap(readProgram(text, options));
    expect(program.strokes.map((s) => s.toMm[0])).toEqual([15, 6, 8]);
  });

  test('parameters run from 1 to 5399 and are whole numbers within 0.0001', () => {
    expect(targetsOf(['#1', '#5000'], '#1.00005=4 #5000=5')).toEqual([4, 5]);
    for (const index of ['0', '-1', '5400', '1.5', '[1/3]']) {
      expect(failureOf(`g21\n#${index}=1`).figures, index).toEqual({ line: 2, column: 1 });
      expect(failureOf(`g1 x#${index}`).figures, index).toEqual({ line: 1, column: 5 });
    }
  });

  test('parameters of offsets and probing are refused: only the machine knows them', () => {
    for (const text of ['g1 x#5061', 'g1 x#5221', 'g1 x#5161']) {
      expect(failureOf(text).message).toContain('only the machine knows');
    }
    expect(failureOf('#5221=3').message).toContain('moves coordinates');
  });
});

describe('values that are no numbers', () => {
  test.each([
    ['[1 / 0]', 8],
    ['[5 MOD 0]', 8],
    ['[[0-8] ** 0.5]', 12],
    ['sqrt[-1]', 5],
    ['ln[0]', 5],
    ['asin[2]', 5],
    ['acos[-1.1]', 5],
    ['exp[1000]', 5],
  ])('%s fails with line and column', (text, column) => {
    const failure = failureOf(`g21\ng1 x${text}`);
    expect(failure.code).toBe('PROGRAM_INVALID');
    expect(failure.figures).toEqual({ line: 2, column });
  });
});
