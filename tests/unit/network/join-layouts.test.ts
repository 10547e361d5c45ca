import { describe, expect, it } from 'vitest';
import { joinLayouts } from '../../simulation/join-layouts.js';

describe('lines of two programs', () => {
  it('half a pitch apart stand between each other', () => {
    const { layout, lineOf } = joinLayouts([
      { linesAtX: [0, 50, 100], linesAtY: [0, 50], rungsAtX: [10], gantryAxis: 'y' },
      { linesAtX: [25, 75], linesAtY: [25], rungsAtX: [35, 40], gantryAxis: 'y' },
    ]);
    expect(layout.linesAtX).toEqual([0, 25, 50, 75, 100]);
    expect(layout.linesAtY).toEqual([0, 25, 50]);
    expect(layout.rungsAtX).toEqual([10, 35, 40]);
    expect([0, 1, 2].map((line) => lineOf[0]!('x', line))).toEqual([0, 2, 4]);
    expect([0, 1].map((line) => lineOf[1]!('x', line))).toEqual([1, 3]);
    // Rungs are counted behind the lines: three lines of the first program, two of the second, five of both.
    expect(lineOf[0]!('x', 3)).toBe(5);
    expect(lineOf[1]!('x', 3)).toBe(7);
    expect(lineOf[1]!('y', 0)).toBe(1);
  });

  it('at the same place are one line, whatever the last digit of a program', () => {
    const { layout, lineOf } = joinLayouts([
      { linesAtX: [0, 50], linesAtY: [0, 50], gantryAxis: 'y' },
      { linesAtX: [0, 50.00001], linesAtY: [0, 50], gantryAxis: 'y' },
    ]);
    expect(layout.linesAtX).toHaveLength(2);
    expect(lineOf[1]!('x', 1)).toBe(1);
  });
});
