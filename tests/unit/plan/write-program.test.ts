import { describe, expect, it } from 'vitest';
import {
  writeFlatProgram,
  writeHolesProgram,
  writeParametricProgram,
} from '../../../src/plan/index.js';
import { writeNumber } from '../../../src/plan/program-header.js';
import { readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { INSERTS, plan } from './plan-choices.js';

/** G and M words of NISTIR 6556, tables 5 and 7, that a grid needs. */
const PLAIN_LINE =
  /^\/?(?:(?:G(?:0|1|3|4|17|20|21|90|94)|M[01235]|[XYZIJFSP]-?\d+(?:\.\d+)?)(?: |$))+$/;

const EVERYTHING = [
  plan({ cellCodes: true, inserts: INSERTS }),
  plan({
    marking: 'cutter',
    inserts: INSERTS,
    units: 'in',
    travelMm: [914.4, 609.6],
    spacingMm: 50.8,
  }),
  plan({}, 'first'),
  plan({ marking: 'cutter' }, 'second'),
  plan({ marking: 'cutter' }, 'fresh'),
];

describe('a flat program', () => {
  it('has words of NISTIR 6556 alone, in ASCII, with closed comments of their own lines', () => {
    for (const one of EVERYTHING) {
      for (const line of writeFlatProgram(one, 'grid.ngc').trimEnd().split('\n')) {
        // NISTIR 6556, section 3.3: at most 256 characters, comments not nested.
        expect(line.length).toBeLessThanOrEqual(256);
        expect(line).toMatch(line.startsWith('(') ? /^\([ -'*-~]*\)$/ : PLAIN_LINE);
      }
    }
  });

  it('never leaves the travel', () => {
    for (const one of EVERYTHING) {
      const { x, y } = one.layout;
      for (const line of writeFlatProgram(one, 'grid.ngc').split('\n')) {
        if (line.startsWith('(')) continue;
        for (const [, letter, value] of line.matchAll(/([XY])(-?[\d.]+)/g)) {
          const { low, high } = letter === 'X' ? x : y;
          expect(Number(value)).toBeGreaterThanOrEqual(low);
          expect(Number(value)).toBeLessThanOrEqual(high);
        }
      }
    }
  });

  it('marks a line with beam, run-up, pause and reversal as worked by hand', () => {
    const lines = writeFlatProgram(plan(), 'grid.ngc').split('\n');
    // First half of the line at X100, an even one: from Y-6 to the middle of the cell before the middle one.
    const start = lines.indexOf('G0 X92 Y-14');
    expect(lines.slice(start, start + 6)).toEqual([
      'G0 X92 Y-14',
      'G1 X100 S0',
      'G4 P0.3',
      'G1 X100 Y-6 S0',
      'G1 X100 Y75 S300',
      'G1 X100 Y83 S0',
    ]);
    // The other half comes from the + side.
    expect(lines.slice(start + 6, start + 8)).toEqual(['G0 X108 Y67', 'G1 X100 S0']);
  });

  it('lowers a cutter only behind the pause, and lifts it before it travels', () => {
    const lines = writeFlatProgram(plan({ marking: 'cutter' }), 'grid.ngc').split('\n');
    const start = lines.indexOf('G0 X92 Y-6');
    expect(lines.slice(start, start + 6)).toEqual([
      'G0 X92 Y-6',
      'G1 X100',
      'G4 P0.3',
      'G1 Z-0.3 F300',
      'G1 X100 Y75 F1500',
      'G0 Z5',
    ]);
  });

  it('switches the second stage by block delete, stops before it, and stops for the tool', () => {
    const lines = writeFlatProgram(plan({ inserts: INSERTS }), 'grid.ngc')
      .trimEnd()
      .split('\n');
    const stop = lines.indexOf('M1');
    const stage = lines.slice(stop + 1).filter((line) => !line.startsWith('('));
    expect(stage[0]).toBe('/M0');
    expect(stage.slice(-3)).toEqual(['/M5', 'G0 X0 Y0', 'M2']);
    expect(stage.slice(0, -2).every((line) => line.startsWith('/'))).toBe(true);
    expect(lines.slice(0, stop).some((line) => line.startsWith('/'))).toBe(false);
    // With the stage deleted nothing turns or goes down.
    const left = lines.filter((line) => !line.startsWith('/') && !line.startsWith('('));
    expect(left.some((line) => /Z-|G3/.test(line))).toBe(false);
    expect(left.filter((line) => line.startsWith('M3'))).toEqual(['M3 S0']);
  });

  it('of holes alone cuts what the second stage cuts', () => {
    const one = plan({ inserts: INSERTS });
    const stage = writeFlatProgram(one, 'grid.ngc')
      .split('\n')
      .filter((line) => line.startsWith('/'))
      .map((line) => line.slice(1));
    const alone = writeHolesProgram(one)
      .split('\n')
      .filter((line) => !line.startsWith('('));
    expect(alone.slice(1, -3)).toEqual(stage);
  });
});

describe('a parametric program', () => {
  it('follows a travel that is changed in the file', () => {
    const text = writeParametricProgram(plan(), 'grid.ngc');
    const longer = text.replace('#101 = 400 ', '#101 = 650 ');
    expect(longer).not.toBe(text);
    const atX = (program: string) => {
      const { strokes } = unwrap(
        readProgram(program, { name: 'p', marking: 'laser', blockDelete: true }),
      );
      const long = strokes.filter(
        ({ fromMm, toMm }) => fromMm[0] === toMm[0] && toMm[1] - fromMm[1] > 60,
      );
      return Math.max(...long.filter(({ toMm }) => toMm[1] === 256).map(({ fromMm }) => fromMm[0]));
    };
    expect(atX(text)).toBe(350);
    // 650 mm less 50 mm: 600 mm, twelve spacings.
    expect(atX(longer)).toBe(600);
  });

  it('uses numbered parameters and numbered O words only, and says so', () => {
    for (const one of EVERYTHING) {
      const text = writeParametricProgram(one, 'grid.ngc');
      expect(text).toContain('(needs of the controller: ');
      expect(text).not.toMatch(/#<|o</i);
    }
  });
});

describe('numbers in programs', () => {
  it.each([
    [60, 0, '60'],
    [600, 1, '600'],
    [0.5, 3, '0.5'],
    [-0.00001, 3, '0'],
    [1e-7, 3, '0'],
    [1234.5678, 3, '1234.568'],
  ])('%d with %d decimals is %s', (value, decimals, text) => {
    expect(writeNumber(value, decimals)).toBe(text);
  });
});
