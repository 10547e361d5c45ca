import { describe, expect, test } from 'vitest';
import { type ReadProgramOptions, readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const LASER = 'G21 G90 M3 S500 F100\n';

function read(text: string, options: Partial<ReadProgramOptions> = {}) {
  return readProgram(text, { name: 'grid.ngc', marking: 'auto', blockDelete: false, ...options });
}

/** `x0,y0>x1,y1@line` of each stroke. */
function strokesOf(text: string, options: Partial<ReadProgramOptions> = {}): string[] {
  return unwrap(read(LASER + text, options)).strokes.map(
    (stroke) => `${stroke.fromMm.join()}>${stroke.toMm.join()}@${stroke.sourceLine}`,
  );
}

function failureOf(text: string) {
  const outcome = read(text);
  if (outcome.ok) throw new Error('expected a failure');
  expect(outcome.failure.code).toBe('PROGRAM_INVALID');
  return outcome.failure;
}

/** Marks a dash of 1 mm along X in the row of its number: shows which lines ran, in which order. */
function dash(row: number | string): string {
  return `G0 X0 Y${row}\nG1 X1`;
}

/** Rows of the dashes, in order. */
function rowsOf(text: string, options: Partial<ReadProgramOptions> = {}): number[] {
  return unwrap(read(LASER + text, options)).strokes.map((stroke) => stroke.toMm[1]);
}

describe('comparisons', () => {
  test.each([
    ['eq', [1, 0, 0]],
    ['ne', [0, 1, 1]],
    ['gt', [0, 0, 1]],
    ['ge', [1, 0, 1]],
    ['lt', [0, 1, 0]],
    ['le', [1, 1, 0]],
  ])('%s tells equal, smaller and greater apart', (word, truths) => {
    const values = ['[2', '[1', '[3'].map((left) => `${left} ${word} 2]`);
    expect(rowsOf(`${values.map(dash).join('\n')}\nM2`)).toEqual(truths);
  });
});

test('words stand behind the number of a program, not behind a word of flow', () => {
  expect(rowsOf(`O77 G0 X0 Y3\nG1 X1\nM2`)).toEqual([3]);
});

test('a comment in front hides no word of flow', () => {
  const text = `(never) O1 if [0]\n${dash(1)}\n(never) O1 endif\n${dash(2)}\nM2`;
  expect(rowsOf(text)).toEqual([2]);
});

describe('loops', () => {
  test('WHILE runs as long as its condition holds, also not at all', () => {
    const text = '#1=0\nO1 while [#1 lt 3]\nG0 X[#1*10] Y0\nG1 Y5\n#1=[#1+1]\nO1 endwhile\nM2';
    expect(strokesOf(text)).toEqual(['0,0>0,5@5', '10,0>10,5@5', '20,0>20,5@5']);
    expect(rowsOf(`O1 while [0]\n${dash(1)}\nO1 endwhile\n${dash(2)}\nM2`)).toEqual([2]);
  });

  test('DO runs once before its WHILE decides', () => {
    const body = `${dash('#1')}\n#1=[#1+1]`;
    expect(rowsOf(`#1=1\nO1 do\n${body}\nO1 while [#1 LE 3]\nM2`)).toEqual([1, 2, 3]);
    expect(rowsOf(`#1=9\nO1 do\n${body}\nO1 while [#1 LE 3]\n${dash(0)}\nM2`)).toEqual([9, 0]);
  });

  test('REPEAT counts its rounds, also inside another one, also none', () => {
    const text = `#1=0\nO1 repeat [2]\nO2 repeat [3]\n${dash('#1')}\n#1=[#1+1]\nO2 endrepeat\n#1=[#1+10]\nO1 endrepeat\nM2`;
    expect(rowsOf(text)).toEqual([0, 1, 2, 13, 14, 15]);
    const none = (count: number) =>
      `O1 repeat [${count}]\n${dash(1)}\nO1 endrepeat\n${dash(2)}\nM2`;
    expect(rowsOf(none(0))).toEqual([2]);
    expect(rowsOf(none(-3))).toEqual([2]);
  });

  test('BREAK leaves the loop it names, CONTINUE goes on with its next round', () => {
    const inner = `O3 if [#2 eq 2]\nO1 break\nO3 endif\n${dash('[#1*10+#2]')}`;
    const text = `#1=0\nO1 while [#1 lt 5]\n#1=[#1+1]\n#2=0\nO2 repeat [4]\n#2=[#2+1]\n${inner}\nO2 endrepeat\nO1 endwhile\n${dash(99)}\nM2`;
    expect(rowsOf(text)).toEqual([11, 99]);
    const odd = `O3 if [#1 mod 2 eq 0]\nO1 continue\nO3 endif\n${dash('#1')}`;
    const counted = `#1=[#1+1]\n${odd}`;
    expect(rowsOf(`#1=0\nO1 while [#1 lt 5]\n${counted}\nO1 endwhile\nM2`)).toEqual([1, 3, 5]);
    expect(rowsOf(`#1=0\nO1 repeat [5]\n${counted}\nO1 endrepeat\nM2`)).toEqual([1, 3, 5]);
    expect(rowsOf(`#1=0\nO1 do\n${counted}\nO1 while [#1 lt 5]\nM2`)).toEqual([1, 3, 5]);
  });
});

describe('branches', () => {
  test.each([
    [1, [1, 9]],
    [2, [2, 9]],
    [3, [3, 9]],
    [4, [4, 9]],
  ])('of IF, ELSEIF, ELSEIF, ELSE with value %d exactly one runs', (value, rows) => {
    const text = `#1=${value}\nO1 if [#1 eq 1]\n${dash(1)}\nO1 elseif [#1 eq 2]\n${dash(2)}\nO1 elseif [#1 eq 3]\n${dash(3)}\nO1 else\n${dash(4)}\nO1 endif\n${dash(9)}\nM2`;
    expect(rowsOf(text)).toEqual(rows);
  });

  test('behind a branch that was taken no condition is computed any more', () => {
    const text = `O1 if [1]\n${dash(1)}\nO1 elseif [1/0]\n${dash(2)}\nO1 endif\nM2`;
    expect(rowsOf(text)).toEqual([1]);
  });

  test('branches inside branches keep apart', () => {
    const text = (a: number, b: number) =>
      `O1 if [${a}]\nO2 if [${b}]\n${dash(1)}\nO2 else\n${dash(2)}\nO2 endif\nO1 else\n${dash(3)}\nO1 endif\nM2`;
    expect(rowsOf(text(1, 1))).toEqual([1]);
    expect(rowsOf(text(1, 0))).toEqual([2]);
    expect(rowsOf(text(0, 1))).toEqual([3]);
  });
});

describe('subprograms', () => {
  test('a call passes arguments; strokes name the line inside the subprogram', () => {
    const text =
      'O<line> sub\nG0 X#1 Y#2\nG1 Y[#2+#3]\nO<line> endsub\nO<line> call [10] [20] [5]\no < Line > CALL [1][2][3]\nM2';
    expect(strokesOf(text)).toEqual(['10,20>10,25@4', '1,2>1,5@4']);
  });

  test('a subprogram may stand behind the end of the program, and its number may be computed', () => {
    const text = `#1=100\nO[#1+1] call\nO[#1] call\nM2\nO100 sub\n${dash(100)}\nO100 endsub\nO101 sub\n${dash(101)}\nO101 endsub`;
    expect(rowsOf(text)).toEqual([101, 100]);
  });

  test('#1 to #30 and plain names belong to the subprogram, others to all', () => {
    const inside = '#1=70\n#<a>=71\n#31=72\n#<_b>=73';
    const after = [dash('#1'), dash('#<a>'), dash('#31'), dash('#<_b>')].join('\n');
    const text = `O1 sub\n${inside}\nO1 endsub\n#1=1\n#<a>=2\n#31=3\n#<_b>=4\nO1 call [9]\n${after}\nM2`;
    expect(rowsOf(text)).toEqual([1, 2, 72, 73]);
    expect(rowsOf(`O1 sub\n${dash('#2')}\nO1 endsub\nO1 call [9]\nM2`)).toEqual([0]);
  });

  test('RETURN leaves early and hands back a value', () => {
    const text = `O1 sub\nO2 if [#1 gt 5]\nO1 return [#1*2]\nO2 endif\nO1 endsub [#1]\nO1 call [7]\n${dash('#<_value>')}\nO1 call [3]\n${dash('#<_value>')}\nM2`;
    expect(rowsOf(text)).toEqual([14, 3]);
  });

  test('a hundred branches stand inside each other, and no more', () => {
    const nested = (count: number) => {
      const labels = Array.from({ length: count }, (_, i) => i + 1);
      const open = labels.map((label) => `O${label} if [1]`);
      const close = labels.toReversed().map((label) => `O${label} endif`);
      return [...open, dash(7), ...close, 'M2'].join('\n');
    };
    expect(rowsOf(nested(100))).toEqual([7]);
    const failure = failureOf(nested(101));
    expect(failure.message).toMatch(/more than 100 loops and branches/);
    expect(failure.figures.line).toBe(101);
  });

  test('a subprogram that calls itself has its own parameters at each level', () => {
    // 5! = 120, by recursion.
    const text = `O1 sub\nO2 if [#1 le 1]\nO1 return [1]\nO2 endif\nO1 call [#1-1]\nO1 endsub [#1*#<_value>]\nO1 call [5]\n${dash('#<_value>')}\nM2`;
    expect(rowsOf(text)).toEqual([120]);
  });

  test('M98 runs the lines behind an O number L times, up to M99', () => {
    const text = 'G0 X0 Y0\nM98 P100 L3\nG1 Y7\nM30\nO0100 (dash)\nG91\nG1 X1\nG0 X1\nG90\nM99';
    expect(strokesOf(text)).toEqual(['0,0>1,0@8', '2,0>3,0@8', '4,0>5,0@8', '6,0>6,7@4']);
    expect(rowsOf(`#1=4\nM98 P#1 L0\n${dash(1)}\nM2\nO4\n${dash(2)}\nM99`)).toEqual([1]);
  });
});

describe('small things', () => {
  test('the number of a program and lines with / change nothing', () => {
    expect(rowsOf(`O0001 (grid)\n${dash(1)}\nM2`)).toEqual([1]);
    const text = `O1 repeat [2]\n/O2 if [0]\n${dash(1)}\n/O2 endif\nO1 endrepeat\n${dash(2)}\nM2`;
    expect(rowsOf(text, { blockDelete: true })).toEqual([1, 1, 2]);
    expect(rowsOf(text, { blockDelete: false })).toEqual([2]);
  });

  test('EXISTS tells whether a name was set', () => {
    const text = `${dash('exists[#<a>]')}\n#<a>=5\n${dash('[1+exists[#<A>]]')}\nM2`;
    expect(rowsOf(text)).toEqual([0, 2]);
  });

  test('line numbers, spaces and capitals inside O words mean nothing', () => {
    const text = `#1=0\nN10 o 1 0 W h i l e [#1 l t 2]\n${dash('# 1')}\n# 1 = [ # 1 + 1 ]\nN20 O10 END WHILE (again)\nM2`;
    expect(rowsOf(text)).toEqual([0, 1]);
  });

  test('a note of a line in a loop is told once', () => {
    const { findings } = unwrap(read(`${LASER}O1 repeat [5]\nM106\n${dash(1)}\nO1 endrepeat\nM2`));
    expect(findings.map((finding) => finding.message)).toEqual([
      expect.stringMatching(/line 3 \(M106 at column 1\)$/),
    ]);
  });
});

describe('what is refused', () => {
  test.each([
    ['O1 while [1]\nG4 P1', 1],
    ['O1 if [1]\nO2 endif', 1],
    ['O1 if [1]\nO2 endif\nO1 endif', 2],
    ['G21\nO1 endwhile', 2],
    ['O1 if [1]\nO1 else\nO1 else\nO1 endif', 3],
    ['O1 break', 1],
    ['O1 repeat [1]\nO2 continue\nO1 endrepeat', 2],
    ['O1 if [1]\nO2 sub\nO2 endsub\nO1 endif', 2],
    ['O1 while\nO1 endwhile', 1],
    ['O1 repeat [1.5]\nO1 endrepeat', 1],
    ['O1 if [#7]\nO1 endif', 1],
    ['O5 call', 1],
    ['O5 call\nM2\nO5 sub\nO5 endsub\nO5 sub\nO5 endsub', 1],
    ['O5 return', 1],
    ['O[1.5] call', 1],
    ['O[1] sub', 1],
    ['O1.5', 1],
    ['G1 O5 call', 1],
    ['O5 call G1 X1', 1],
    ['G21\nM98', 2],
    ['G21\nM98 P7', 2],
    ['M98 P1\nM2\nO1\nG4 P1', 1],
    ['M99', 1],
    ['M98 P1 L-1\nO1\nM99', 1],
    ['#1=1 G1 X#1 N5', 1],
    ['O1 if [1] G1 X5\nO1 endif', 1],
    ['#<a=5', 1],
    ['G21\nG1 X#<depth>', 2],
    ['G1 X[exists[#5]]', 1],
    [`O5 call ${'[1]'.repeat(31)}`, 1],
  ])('%j is refused, with its line', (text, line) => {
    const failure = failureOf(text);
    expect(failure.figures.line).toBe(line);
    expect(failure.message).toContain(`line ${line}`);
    expect(failure.hint).not.toBe('');
  });

  test('a fault in lines that are never reached does not stop the program', () => {
    expect(rowsOf(`O1 if [0]\nG1 X[1/0]\nO9 endwhile\nO1 endif\n${dash(1)}\nM2\nO7 if`)).toEqual([
      1,
    ]);
  });
});

describe('hostile programs come to an end', () => {
  test('a loop without end is given up after 1 000 000 lines, with the line', () => {
    const failure = failureOf('G21\nO1 while [1]\nO1 endwhile');
    expect(failure.message).toMatch(/1000000 lines/);
    expect([2, 3]).toContain(failure.figures.line);
    const longLine = `O1 do\n#1=[1${'+1'.repeat(100_000)}]\nO1 while [1]`;
    expect(failureOf(longLine).message).toMatch(/1000000 lines/);
  });

  test('a subprogram that calls itself without end is refused at depth 100', () => {
    const failure = failureOf('O1 sub\nO1 call\nO1 endsub\nO1 call');
    expect(failure.message).toMatch(/more than 100 subprograms/);
    expect(failure.figures.line).toBe(2);
    expect(failureOf('M98 P1\nO1\nM98 P1\nM99').figures.line).toBe(3);
  });

  test.each([
    ['brackets', `G1 X${'['.repeat(200_000)}`],
    ['closed brackets', `G1 X${'['.repeat(5000)}1${']'.repeat(5000)}`],
    ['parameters of parameters', `G1 X${'#'.repeat(200_000)}1`],
    ['functions', `G1 X${'sin['.repeat(100_000)}`],
    ['signs', `G1 X${'-'.repeat(200_000)}1`],
    ['signs before brackets', `G1 X${'-['.repeat(100_000)}1`],
    ['branches', 'O1 if [1]\n'.repeat(50_000)],
  ])('a hundred thousand %s inside each other are refused', (_, text) => {
    expect(failureOf(text).figures.line).toBeGreaterThan(0);
  });

  test('a sum of a hundred thousand terms is computed', () => {
    expect(rowsOf(`#1=[1${'+1'.repeat(99_999)}]\n${dash('#1')}\nM2`)).toEqual([100_000]);
  });
});
