/**
 * Lexical rules of RS-274/NGC. Source: T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC
 * Interpreter - Version 3, NISTIR 6556 (2000), section 3.3 and Appendix C.1.
 */

import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { decodeProgramText, readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

const options = { name: 'nist.ngc', marking: 'auto', blockDelete: false } as const;

function end(text: string, head = 'g21 m3 s1 g0 x1 y1\n') {
  return unwrap(readProgram(`${head}${text}\nm2`, options)).strokes.at(-1)!.toMm;
}

describe('section 3.3', () => {
  test('spaces and case mean nothing: g0x +0. 12 34y 7 is g0 x+0.1234 y7', () => {
    const text = 'g21\ng0x +0. 12 34y 7\nm3 s1 g1 y9\nm2';
    expect(unwrap(readProgram(text, options)).strokes[0]!.fromMm).toEqual([0.1234, 7]);
    expect(end('G1 X 1 0 .\t5Y-\t3')).toEqual([10.5, -3]);
  });

  test('a number has an optional sign and point and at least one digit', () => {
    expect(end('g1 x+2 y-.5')).toEqual([2, -0.5]);
    expect(end('g1 x5. y00.250')).toEqual([5, 0.25]);
    for (const text of ['g1 x.', 'g1 x-', 'g1 x1.2.3', 'g1 x--1']) {
      expect(readProgram(text, options)).toMatchObject({ failure: { code: 'PROGRAM_INVALID' } });
    }
  });

  test('codes within 0.0001 of a whole number are that number', () => {
    expect(end('g1.00001 x3')).toEqual([3, 1]);
  });

  test('words may stand in any order, comments between them', () => {
    expect(end('x3 (to the right) g1 (feed) y4 f10')).toEqual([3, 4]);
  });

  test('% demarcates: text behind the second one is ignored', () => {
    const text = '%\ng21 m3 s1 g0 x0 y0\ng1 x3\n%\n this is no program';
    expect(unwrap(readProgram(text, options)).strokes).toHaveLength(1);
  });

  test('two words of one modal group, a letter twice and five M words are errors', () => {
    for (const text of ['g0 g1 x1', 'g90 g91', 'g1 x1 x2', 'm3 m5', 'm0 m3 m6 m8 m48']) {
      expect(readProgram(text, options)).toMatchObject({ failure: { code: 'PROGRAM_INVALID' } });
    }
  });
});

describe('Appendix C.1', () => {
  const file = new URL('../../../shared/data/nist/rs274ngc_c1.ngc', import.meta.url);
  if (!existsSync(file)) console.info('skipped: the example program of Appendix C.1 is not there');

  test.skipIf(!existsSync(file))('the example that mills "Hello world" is read as cut', () => {
    const program = unwrap(readProgram(unwrap(decodeProgramText(readFileSync(file))), options));
    expect(program).toMatchObject({ marking: 'cutter', unitsUsed: 'mm', largestExtentMm: 81 });
    // Counted by hand: H 3, e 2, l 2, w 4, r 2, l 1, d 3.
    const drawn = program.strokes.map((s) => `${s.fromMm.join()}-${s.toMm.join()}`);
    expect(drawn).toEqual([
      '0,0-0,10',
      '0,5-7,5',
      '7,0-7,10',
      '11,2.5-16,2.5',
      '13.5,0-16,0',
      '20,0-20,9',
      '26,9-26,0',
      '45,5-47,0',
      '47,0-48.5,3',
      '48.5,3-50,0',
      '50,0-52,5',
      '64,0-64,5',
      '64,5-64,4',
      '73,0-73,9',
      '81,9-81,0',
      '81,0-79.5,0',
      '79.5,5-81,5',
    ]);
    const arcs = program.findings.find((f) => f.code === 'PROGRAM_ARCS_PASSED_OVER');
    expect(arcs?.message).toMatch(/lines 19, 49, 59$/);
    // Extent by the README of github.com/grwhitehead/rs274ngc-python3, whose interpreter ran it:
    // (0, 0, -0.0197) to (3.1890, 0.3937, 1.9685) in.
    const { x, y, z } = program.envelopeMm;
    const inches = [x, y, z].map((range) => range!.map((mm) => Number((mm / 25.4).toFixed(4))));
    expect(inches).toEqual([
      [0, 3.189],
      [0, 0.3937],
      [-0.0197, 1.9685],
    ]);
    // The two letters o: from (32.5, 0) and (57.5, 0) once round centres 2.5 mm above.
    expect(program.holes).toMatchObject([
      { centreMm: [32.5, 2.5], steps: [{ pathDiameterMm: 5, bottomMm: -0.5 }], sourceLine: 32 },
      { centreMm: [57.5, 2.5], steps: [{ pathDiameterMm: 5, bottomMm: -0.5 }], sourceLine: 43 },
    ]);
  });
});
