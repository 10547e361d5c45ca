import { describe, expect, it } from 'vitest';
import { checkProgram, checkText, writeFlatProgram } from '../../../src/plan/index.js';
import { readCommands } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { INSERTS, plan } from './plan-choices.js';

function check(text: string, options: Partial<Parameters<typeof checkProgram>[1]> = {}) {
  const program = unwrap(readCommands(text, { name: 'p', marking: 'auto', blockDelete: false }));
  return checkProgram(program, { periodsMm: {}, toolDiameterMm: 0, ...options });
}

function revealed(one: ReturnType<typeof check>): Record<string, string> {
  return Object.fromEntries(one.reveals.map(({ what, revealed: how }) => [what, how]));
}

/** A line at constant X (axis X) or Y from 0 to 200, cut, reached from the given sides of its two halves. */
function line(axis: 'X' | 'Y', place: number, sides: readonly (1 | -1)[]): string {
  const along = axis === 'X' ? 'Y' : 'X';
  return sides
    .map((side, half) =>
      [
        `G0 ${axis}${place - 10 * side} ${along}${half * 100}`,
        `G0 ${axis}${place}`,
        'G1 Z-0.3',
        `G1 ${along}${half * 100 + 100}`,
        'G0 Z5',
      ].join('\n'),
    )
    .join('\n');
}

/** Five lines each way, 50 mm apart. */
function grid(sidesOf: (line: number) => readonly (1 | -1)[], more = ''): string {
  const lines = [0, 1, 2, 3, 4].flatMap((k) => [
    line('X', 50 * k, sidesOf(k)),
    line('Y', 50 * k, sidesOf(k)),
  ]);
  return ['G21 G90', 'F600 S10000 M3', 'G0 Z5', ...lines, more, 'M2', ''].join('\n');
}

describe('what a program can reveal', () => {
  it('is no lost motion where every line is reached from one side', () => {
    expect(revealed(check(grid(() => [1, 1])))).toMatchObject({
      'squareness, scale, straightness, racking': 'yes',
      'lost motion X': 'no',
      'lost motion Y': 'no',
      'drift X while marking': 'no',
      // Nothing but the grid: half a turn maps it onto itself.
      'which way round the grid lies': 'no',
    });
  });

  it('is lost motion mixed with straightness where the same half is always the forward one', () => {
    expect(revealed(check(grid(() => [1, -1])))['lost motion X']).toBe('partly');
  });

  it('is lost motion where the halves change sides from line to line', () => {
    const sides = (k: number) => (k % 2 === 0 ? ([1, -1] as const) : ([-1, 1] as const));
    expect(revealed(check(grid(sides)))['lost motion X']).toBe('yes');
  });

  it('is no error with a period that divides the spacing, and one that does not', () => {
    const text = grid(() => [1, 1]);
    expect(revealed(check(text, { periodsMm: { x: 5, y: 10 } }))).toMatchObject({
      'periodic error X': 'no',
      'periodic error Y': 'no',
    });
    // 0, 50, 100, 150, 200 mm: phases 0, 0.8, 0.6, 0.4, 0.2 of 62.5 mm.
    expect(revealed(check(text, { periodsMm: { x: 62.5 } }))['periodic error X']).toBe('yes');
  });

  it('of a laid-out grid is everything', () => {
    const text = writeFlatProgram(plan({ travelMm: [900, 600] }), 'grid.ngc');
    expect(
      new Set(check(text, { periodsMm: { x: 5, y: 94.248 } }).reveals.map((r) => r.revealed)),
    ).toEqual(new Set(['yes']));
  });

  it('changes with one move: the last marks of a laid-out grid taken to another place show no drift', () => {
    const text = writeFlatProgram(plan(), 'grid.ngc');
    const at = text.lastIndexOf('(parts of the first lines');
    const moved =
      text.slice(0, at) + text.slice(at).replaceAll('X0 ', 'X20 ').replaceAll('X0\n', 'X20\n');
    expect(revealed(check(text))['drift X while marking']).toBe('yes');
    expect(revealed(check(moved))['drift X while marking']).toBe('no');
    expect(revealed(check(moved))['drift Y while marking']).toBe('yes');
  });

  it('is nothing without a grid', () => {
    expect(revealed(check('G21\nG0 Z5\nG0 X0 Y0\nG1 Z-1\nG1 X50\nG0 Z5\nM2\n'))).toEqual({
      'anything of the machine': 'no',
    });
  });
});

describe('holes of a program', () => {
  const text = writeFlatProgram(plan({ inserts: INSERTS }), 'grid.ngc');

  it('sit on crossings where they were laid out', () => {
    const { holes } = check(text, { toolDiameterMm: 6 });
    expect(holes.length).toBe(6);
    expect(holes.every(({ sits, isSuspect }) => sits === 'node' && !isSuspect)).toBe(true);
    // Paths of radius 2, 4 and 1 mm and the tool of 6 mm.
    expect([...holes[0]!.diametersMm].sort((a, b) => a - b)).toEqual([8, 10, 14]);
  });

  it('are named where one of them is moved off its line by three tenths', () => {
    // The hole at X150 Y50: rims at 152, 154 and 151.
    const moved = text
      .replaceAll('X152 Y50 ', 'X152.3 Y50 ')
      .replaceAll('X152 Y50\n', 'X152.3 Y50\n')
      .replaceAll('X154 Y50 ', 'X154.3 Y50 ')
      .replaceAll('X154 Y50\n', 'X154.3 Y50\n')
      .replaceAll('X151 Y50 ', 'X151.3 Y50 ')
      .replaceAll('X151 Y50\n', 'X151.3 Y50\n');
    const one = check(moved);
    const suspects = one.holes.filter(({ isSuspect }) => isSuspect);
    expect(suspects.length).toBe(1);
    expect(suspects[0]!.offMm[0]).toBeCloseTo(0.3, 6);
    expect(suspects[0]!.offMm[1]).toBeCloseTo(0, 6);
    expect(checkText(one, { name: 'p', marking: 'laser', units: 'mm' })).toContain('X +0.3');
  });

  it('in the middle of a cell are taken as meant', () => {
    const drilled = grid(() => [1, 1], 'G81 X25 Y25 Z-8 R1 F200\nG80');
    const [hole] = check(drilled).holes;
    expect(hole).toMatchObject({ sits: 'between', isSuspect: false, offMm: [25, 25] });
  });
});

describe('the travel a program needs', () => {
  it('is that of all its moves, and says where zero may lie', () => {
    // Moves reach from -10 (the run up to the first line) to 200.
    const { fit } = check(
      grid(() => [1, 1]),
      { travelMm: [300, 205] },
    );
    expect(fit.x).toEqual({ neededMm: 210, travelMm: 300, isInside: true, zeroMm: [10, 100] });
    expect(fit.y).toEqual({ neededMm: 210, travelMm: 205, isInside: false, zeroMm: undefined });
  });
});
