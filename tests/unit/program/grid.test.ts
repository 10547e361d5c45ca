import { describe, expect, test } from 'vitest';
import type { Stroke } from '../../../shared/stroke.js';
import {
  cutStrokes,
  describeGrid,
  latticeProgram,
  lookAlikeRotations,
} from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

type Ends = [x1: number, y1: number, x2: number, y2: number, approachX?: -1 | 0 | 1];

function stroke([x1, y1, x2, y2, approachX = 0]: Ends, id: number): Stroke {
  return { id, fromMm: [x1, y1], toMm: [x2, y2], approachX, approachY: 0, sourceLine: id + 1 };
}

function lattice(text: string, ...more: Ends[]): Stroke[] {
  const plain = unwrap(latticeProgram(text));
  return [...plain, ...more.map((ends, index) => stroke(ends, plain.length + index))];
}

describe('a grid beyond any bed', () => {
  test.each([
    ['5x5,123456789,100', /span 493827 m along X: expected at most 100 m/],
    ['5x999,150,3000', /span 2994 m along Y/],
    ['1000x1000,50,50', /1000 × 1000 lines cross at more than 20000 places/],
  ])('%s is refused', (text, message) => {
    const described = describeGrid(unwrap(latticeProgram(text)));
    if (described.ok) throw new Error('was accepted');
    expect(described.failure.code).toBe('PROGRAM_NO_GRID');
    expect(described.failure.message).toMatch(message);
  });

  test('one of a hundred metres is not', () => {
    expect(describeGrid(unwrap(latticeProgram('5x5,25000,100'))).ok).toBe(true);
  });
});

describe('latticeProgram', () => {
  test('lines at constant X come first, and span the grid', () => {
    const strokes = unwrap(latticeProgram('4x3,10,20.5'));
    expect(strokes.map((s) => [...s.fromMm, ...s.toMm])).toEqual([
      [0, 0, 0, 41],
      [10, 0, 10, 41],
      [20, 0, 20, 41],
      [30, 0, 30, 41],
      [0, 0, 30, 0],
      [0, 20.5, 30, 20.5],
      [0, 41, 30, 41],
    ]);
    expect(strokes.every((s) => s.approachX === 0 && s.approachY === 0)).toBe(true);
  });

  test.each([
    '',
    '19x19',
    '19x19,20',
    '2x9,5,5',
    '9x9,0,5',
    '9x9,-5,5',
    '9x9,5,5mm',
    '99999x9,1,1',
  ])('%j is a wrong call', (text) => {
    expect(latticeProgram(text)).toMatchObject({ ok: false, failure: { code: 'WRONG_CALL' } });
  });
});

describe('describeGrid', () => {
  test('lines are sorted, halves of a line belong together, marks of the origin do not count', () => {
    const strokes = [
      [20, 0, 20, 20],
      [0, 20, 0, 0],
      [10, 10, 10, 20],
      [10, 10, 10, 0],
      [0, 0, 20, 0],
      [0, 10, 20, 10],
      [20, 20, 0, 20],
      [-3, 0, -3, 4],
      [-5, -5, 5, 5],
    ].map((ends, id) => stroke(ends as Ends, id));
    const grid = unwrap(describeGrid(strokes));
    expect(grid.linesAtX).toEqual([
      { positionMm: 0, strokes: [1], fromMm: 0, toMm: 20 },
      { positionMm: 10, strokes: [2, 3], fromMm: 0, toMm: 20 },
      { positionMm: 20, strokes: [0], fromMm: 0, toMm: 20 },
    ]);
    expect(grid.linesAtY.map((line) => line.positionMm)).toEqual([0, 10, 20]);
    expect(grid.otherStrokes).toEqual([7, 8]);
  });

  test('a label of many short strokes does not take over', () => {
    const label = Array.from({ length: 60 }, (_, i): Ends => [1 + i * 0.3, -9, 1 + i * 0.3, -6]);
    const grid = unwrap(describeGrid(lattice('5x5,10,10', ...label)));
    expect(grid.linesAtX).toHaveLength(5);
    // One stroke of the label stands in line with the grid line at X10.
    expect(grid.linesAtX[1]).toMatchObject({ positionMm: 10, fromMm: 0, toMm: 40 });
    expect(grid.otherStrokes).toHaveLength(60);
  });

  test('no marks and too few lines are refused', () => {
    expect(describeGrid([])).toMatchObject({ failure: { code: 'PROGRAM_NO_MARKS' } });
    const few = lattice('3x3,10,10').slice(1);
    expect(describeGrid(few)).toMatchObject({
      failure: { code: 'PROGRAM_NO_GRID', figures: { linesAtX: 2, linesAtY: 3 } },
    });
  });
});

describe('lookAlikeRotations', () => {
  function rotations(...args: Parameters<typeof lattice>) {
    const strokes = lattice(...args);
    return lookAlikeRotations(unwrap(describeGrid(strokes)), strokes);
  }

  test('a plain square grid looks the same after every quarter turn, an oblong one after half a turn', () => {
    expect(rotations('5x5,20,20')).toEqual([90, 180, 270]);
    expect(rotations('6x5,20,20')).toEqual([180]);
    expect(rotations('5x5,20,20.2')).toEqual([180]);
    expect(rotations('5x5,20,20.05')).toEqual([90, 180, 270]);
  });

  test('a mark at the origin breaks all symmetry, marks at opposite corners all but half a turn', () => {
    expect(rotations('5x5,20,20', [-6, -6, -2, -2])).toEqual([]);
    expect(rotations('5x5,20,20', [-6, -6, -2, -2], [82, 82, 86, 86])).toEqual([180]);
  });

  test('the way the lines were marked does not matter', () => {
    const strokes = lattice('5x5,20,20').map((s) =>
      s.id % 2 === 0 ? { ...s, fromMm: s.toMm, toMm: s.fromMm } : s,
    );
    expect(lookAlikeRotations(unwrap(describeGrid(strokes)), strokes)).toEqual([90, 180, 270]);
  });
});

describe('cutStrokes', () => {
  function cut(strokes: Stroke[], options = {}) {
    return cutStrokes(strokes, unwrap(describeGrid(strokes)), options);
  }

  test('segments keep clear of crossings and of the ends of strokes', () => {
    const { segments, findings } = cut(lattice('3x3,20,20'));
    expect(findings).toEqual([]);
    const onFirst = segments.filter((s) => s.axis === 'x' && s.lineIndex === 0);
    // Crossings at 0, 20, 40: 1.5 mm off each, 2 mm off the ends.
    expect(onFirst.map((s) => [s.fromMm, s.toMm])).toEqual([
      [
        [0, 2],
        [0, 18.5],
      ],
      [
        [0, 21.5],
        [0, 38],
      ],
    ]);
    expect(segments).toHaveLength(12);
    expect(segments.map((s) => s.id)).toEqual(segments.map((_, index) => index));
  });

  test('in a dense grid a fifth of the gap is kept off', () => {
    const { segments } = cut(lattice('3x3,5,5'));
    expect(segments[0]!.toMm[1]).toBeCloseTo(4, 12);
  });

  test('long gaps are divided evenly', () => {
    const { segments } = cut(lattice('3x3,150,150'));
    const first = segments.slice(0, 3).map((s) => [s.fromMm[1], s.toMm[1]]);
    // 2 to 148.5: three pieces of 48.833 mm.
    expect(first[0]![0]).toBe(2);
    expect(first[0]![1]).toBeCloseTo(2 + 146.5 / 3, 9);
    expect(first[2]![1]).toBeCloseTo(148.5, 9);
  });

  test('marks at other angles are kept clear of as well', () => {
    const { segments } = cut(lattice('3x3,40,40', [-5, 15, 5, 25]));
    const onFirst = segments.filter((s) => s.axis === 'x' && s.lineIndex === 0);
    // At 45 degrees the mark lies within 1.5 mm of the line from 18.5 to 21.5.
    expect(onFirst.slice(0, 2).map((s) => [s.fromMm[1], s.toMm[1]])).toEqual([
      [2, 17],
      [23, 38.5],
    ]);
  });

  test('halves of a line keep their own approach and clear of where they meet', () => {
    const strokes = lattice('3x3,40,40').filter((s) => s.id !== 1);
    strokes.push(stroke([40, 0, 40, 60, 1], 1), stroke([40, 60, 40, 80, -1], 6));
    strokes.sort((a, b) => a.id - b.id);
    const { segments, findings } = cut(strokes.map((s, id) => ({ ...s, id })));
    const middle = segments.filter((s) => s.axis === 'x' && s.lineIndex === 1);
    expect(findings).toEqual([]);
    expect(middle.map((s) => [s.fromMm[1], s.toMm[1], s.approach])).toEqual([
      [2, 38.5, 1],
      [41.5, 58, 1],
      [62, 78, -1],
    ]);
  });

  test('a stretch marked from both sides is dropped, one marked twice from one side is kept once', () => {
    const again = (approach: -1 | 1) => {
      const strokes = lattice('3x3,40,40', [0, 0, 0, 80, approach]);
      strokes[0] = { ...strokes[0]!, approachX: 1 };
      const { segments, findings } = cut(strokes);
      return {
        count: segments.filter((s) => s.axis === 'x' && s.lineIndex === 0).length,
        codes: findings.map((finding) => finding.code),
        message: findings[0]?.message,
      };
    };
    expect(again(-1)).toMatchObject({ count: 0, codes: ['MARKS_ON_MARKS'] });
    expect(again(-1).message).toContain('X0');
    expect(again(1)).toMatchObject({ count: 2, codes: ['MARKS_REPEATED'] });
  });
});
