import { describe, expect, it } from 'vitest';
import { locateWords } from '../../../src/program/index.js';

const textsOf = (line: string) =>
  locateWords(line).words.map(({ from, to }) => line.slice(from, to));

describe('the words of a line', () => {
  it('are found with their whole values, blanks inside and expressions too', () => {
    expect(textsOf('/N10 g1 X 1 0 . 5y-.2 Z[1+[2*#3]] F#<feed>;X9')).toEqual([
      'N10',
      'g1',
      'X 1 0 . 5',
      'y-.2',
      'Z[1+[2*#3]]',
      'F#<feed>',
    ]);
    expect(textsOf('X SIN[30] Y-ATAN[1]/[2] #5=[#1] R##2')).toEqual([
      'X SIN[30]',
      'Y-ATAN[1]/[2]',
      '#5=[#1]',
      'R##2',
    ]);
  });

  it('are none inside comments, which are found as such', () => {
    const line = 'G1 (X5) X6 ; (Y7) X8';
    expect(textsOf(line)).toEqual(['G1', 'X6']);
    expect(locateWords(line).comments.map(({ from, to }) => line.slice(from, to))).toEqual([
      '(X5)',
      '; (Y7) X8',
    ]);
  });

  it('are one where an O word has a keyword and values, and a label apart from what follows', () => {
    expect(textsOf('O100 call [1] [#2] (go)')).toEqual(['O100 call [1] [#2]']);
    expect(textsOf('O12 G0 X1')).toEqual(['O12', 'G0', 'X1']);
    expect(textsOf('%')).toEqual([]);
    expect(textsOf('  ')).toEqual([]);
  });
});
