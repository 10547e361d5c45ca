/** Whatever text is given: a program is read or refused with a line, and soon. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readProgram } from '../../src/program/index.js';

const FAST = { seed: 20_260, numRuns: 1500 } as const;

/** One program may run into the limit of a million lines. */
const LONGEST_MS = 5000;

const VALUES = ['1', '-2.5', '#1', '#2', '##1', '#<a>', '#<_b>', '[#1+1]', '[1/#1]', 'sqrt[#2]'];
const CONDITIONS = ['[#1 LT 3]', '[#2 GT #1 AND #1 NE 2]', '[0]', '[EXISTS[#<a>]]', '[#9]'];
const LABELS = ['1', '2', '<n>', '[#1]'];
const KEYWORDS = [
  'sub',
  'endsub',
  'return',
  'call [#1+1]',
  'call',
  'endwhile',
  'repeat [3]',
  'endrepeat',
  'else',
  'endif',
  'break',
  'continue',
  '',
];

const value = fc.constantFrom(...VALUES);
const statement = fc.oneof(
  fc.tuple(fc.constantFrom('X', 'Y', 'Z', 'S', 'P', 'L'), value).map((pair) => pair.join('')),
  fc.tuple(fc.constantFrom('#2', '#<a>', '#<_b>'), value).map((pair) => pair.join('=')),
  fc.constant('#1=[#1+1]'),
  fc.constantFrom('G0', 'G1', 'G91', 'G92 X1', 'M3', 'M98 P1', 'M99', 'M2', '%', '(c)', '/G1 X1'),
);
const flow = fc.oneof(
  fc.tuple(fc.constantFrom(...LABELS), fc.constantFrom(...KEYWORDS)),
  fc.tuple(
    fc.constantFrom(...LABELS),
    fc
      .tuple(fc.constantFrom('if', 'elseif'), fc.constantFrom(...CONDITIONS))
      .map((pair) => pair.join(' ')),
  ),
);
const line = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.array(statement, { minLength: 1, maxLength: 3 }).map((w) => w.join(' ')),
  },
  { weight: 3, arbitrary: flow.map(([label, word]) => `O${label} ${word}`) },
);
/** A block that is well formed, around lines that need not be. */
const block = fc
  .tuple(
    fc.constantFrom(
      ['while [#1 LT 3]', 'endwhile'],
      ['do', 'while [#1 LT 2]'],
      ['repeat [2]', 'endrepeat'],
      ['if [#1 EQ 1]', 'endif'],
      ['sub', 'endsub [#1]'],
    ),
    fc.constantFrom('1', '2', '<n>'),
    fc.array(line, { maxLength: 5 }),
  )
  .map(([[open, close], label, body]) => [
    `O${label} ${open}`,
    // Lets most loops end: one that does not takes a second.
    '#1=[#1+1]',
    ...body,
    `O${label} ${close}`,
  ]);
/** The second one leaves less unset, so that more programs run to their end. */
const head = fc.constantFrom(
  'G21 M3 S1 #1=0 #2=1\nG0 X0 Y0',
  'G21 M3 S1 #1=1 #2=1 #<a>=1 #<_b>=2\nG0 X0 Y0\nG1 X5',
);
const program = fc
  .tuple(
    head,
    fc.array(
      fc.oneof(
        line.map((one) => [one]),
        block,
      ),
      { maxLength: 8 },
    ),
  )
  .map(([start, parts]) => [start, ...parts.flat()].join('\n'));

function expectReadOrRefused(text: string): void {
  const start = performance.now();
  const outcome = readProgram(text, { name: 'fuzz.ngc', marking: 'auto', blockDelete: true });
  expect(performance.now() - start).toBeLessThan(LONGEST_MS);
  if (outcome.ok) {
    const ends = outcome.value.strokes.flatMap((stroke) => [...stroke.fromMm, ...stroke.toMm]);
    expect(ends.every(Number.isFinite)).toBe(true);
    return;
  }
  const { failure } = outcome;
  if (failure.code === 'PROGRAM_NO_MARKS') return;
  expect(failure.code).toBe('PROGRAM_INVALID');
  const lines = text.split(/\r\n|\n|\r/).length;
  expect(failure.figures.line).toBeGreaterThanOrEqual(1);
  expect(failure.figures.line).toBeLessThanOrEqual(lines);
}

test('programs of flow and parameters thrown together are read or refused with a line', () => {
  fc.assert(fc.property(program, expectReadOrRefused), FAST);
});

test('characters thrown together are read or refused with a line', () => {
  const character = fc.constantFrom(...'GXYOMN#[]<>=*/+-.0123456789 ()%;,\n\r\tabdefilnorstuw');
  const text = fc.string({ unit: character, maxLength: 80 });
  fc.assert(
    fc.property(text, (tail) => expectReadOrRefused(`G21 M3 S1\n${tail}`)),
    FAST,
  );
});
