/**
 * Whatever text is given: a program is read or refused with a line, and soon.
 *
 * GANTRUE_FUZZ_SECONDS=600 draws programs from a new seed for that long, shared evenly by the tests,
 * and prints how many there were and the seed; without it the draw is small and always the same.
 */

import fc from 'fast-check';
import { afterAll, expect, test } from 'vitest';
import { type CommandedProgram, readCommands, readProgram } from '../../src/program/index.js';
import type { Outcome } from '../../src/quantity/index.js';

const FUZZ_SECONDS = Number(process.env.GANTRUE_FUZZ_SECONDS ?? 0);
const TESTS = 3;
const FAST = { seed: 20_260, numRuns: 1500 } as const;
const DRAW =
  FUZZ_SECONDS > 0
    ? {
        seed: Date.now() % 2 ** 31,
        numRuns: Number.MAX_SAFE_INTEGER,
        interruptAfterTimeLimit: (FUZZ_SECONDS * 1000) / TESTS,
      }
    : FAST;
/** Room for what is under way when the time is up. */
const TIMEOUT_MS = FUZZ_SECONDS * 1000 + 120_000;

const counts = { runs: 0, read: 0, slowestMs: 0 };
afterAll(() => {
  if (FUZZ_SECONDS > 0) console.info(`seed ${DRAW.seed}`, counts);
});

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

/** Words that move and mark, with values that often fit together. */
const NUMBERS = [
  '0',
  '1',
  '-1',
  '2',
  '5',
  '-5',
  '10',
  '.5',
  '1e9',
  '99999999',
  '[1/3]',
  '#1',
  '30',
];
const number = fc.constantFrom(...NUMBERS);
const words = (letters: string) =>
  fc
    .uniqueArray(fc.constantFrom(...letters), { maxLength: 5 })
    .chain((chosen) =>
      fc.tuple(...chosen.map((letter) => number.map((n) => letter + n))).map((w) => w.join(' ')),
    );
const MOTIONS = ['', 'G0', 'G1', 'G2', 'G3', 'G38.2', 'G5', 'G80', 'G53 G0', 'G28', 'G30'];
const CYCLES = ['G73', 'G76', 'G81', 'G82', 'G83', 'G84', 'G85', 'G86', 'G87', 'G88', 'G89'];
const SHIFTS = [
  'G10 L2 P1',
  'G10 L2 P2',
  'G10 L20 P1',
  'G10 L20 P3',
  'G10 L1 P1',
  'G10',
  'G52',
  'G68',
  'G68 X1 Y2 R30',
  'G92',
];
const MODES = [
  ...['G17', 'G18', 'G19', 'G20', 'G21', 'G40', 'G41 D1', 'G42', 'G43 H1', 'G49', 'G54', 'G55'],
  ...['G59.3', 'G54.1 P2', 'G61', 'G64', 'G69', 'G90', 'G91', 'G90.1', 'G91.1', 'G92.1', 'G92.2'],
  ...['G92.3', 'G93', 'G94', 'G95', 'G98', 'G99', 'M0', 'M1', 'M3', 'M5', 'M6', 'M60', 'S0', 'S9'],
  ...['F100', 'G51', 'G16', 'M106', 'G4 P1', 'O1 repeat [3]', 'O1 endrepeat'],
];
const move = fc.oneof(
  {
    weight: 5,
    arbitrary: fc
      .tuple(fc.constantFrom(...MOTIONS), words('XYZIJKRPL'))
      .map((pair) => pair.join(' ')),
  },
  {
    weight: 3,
    arbitrary: fc
      .tuple(fc.constantFrom(...CYCLES), fc.constantFrom('', 'Z-3 R2'), words('XYLPQ'))
      .map((parts) => parts.join(' ')),
  },
  {
    weight: 1,
    arbitrary: fc.tuple(fc.constantFrom(...SHIFTS), words('XYZR')).map((pair) => pair.join(' ')),
  },
  { weight: 4, arbitrary: fc.constantFrom(...MODES) },
  // What goes well together, so that more programs come to circles.
  { weight: 2, arbitrary: fc.constantFrom('G2 I-2', 'G3 J1 Z-1', 'G1 Z-2', 'G0 X5 Y5', 'G0 Z5') },
);
const motionProgram = fc
  .array(move, { maxLength: 14 })
  .map((lines) => ['G21 M3 S1 #1=1', 'G0 X0 Y0 Z5', ...lines].join('\n'));

function expectReadOrRefused(text: string): void {
  const start = performance.now();
  const options = { name: 'fuzz.ngc', marking: 'auto', blockDelete: true } as const;
  const outcome = readCommands(text, options);
  const tookMs = performance.now() - start;
  counts.runs += 1;
  counts.slowestMs = Math.max(counts.slowestMs, tookMs);
  expect(tookMs).toBeLessThan(LONGEST_MS);
  if (outcome.ok) counts.read += 1;
  expectSound(text, outcome);
  const program = readProgram(text, options);
  if (program.ok) expect(program.value.strokes.length).toBeGreaterThan(0);
  else if (outcome.ok) expect(program.failure.code).toBe('PROGRAM_NO_MARKS');
}

function expectSound(text: string, outcome: Outcome<CommandedProgram>): void {
  const lines = text.split(/\r\n|\n|\r/).length;
  if (!outcome.ok) {
    const { failure } = outcome;
    expect(failure.code).toBe('PROGRAM_INVALID');
    expect(failure.figures.line).toBeGreaterThanOrEqual(1);
    expect(failure.figures.line).toBeLessThanOrEqual(lines);
    return;
  }
  const { strokes, holes, envelopeMm, stops } = outcome.value;
  const lengths = [
    ...strokes.flatMap((stroke) => [...stroke.fromMm, ...stroke.toMm, stroke.feedMmPerMin ?? 0]),
    ...holes.flatMap((hole) => [...hole.centreMm, ...hole.steps.map((s) => s.pathDiameterMm)]),
    ...holes.flatMap((hole) => hole.steps.map((step) => step.bottomMm ?? 0)),
    ...[envelopeMm.x, envelopeMm.y, envelopeMm.z].flatMap((range) => range ?? []),
  ];
  expect(lengths.every(Number.isFinite)).toBe(true);
  const named = [...strokes, ...holes].map((mark) => mark.sourceLine);
  for (const line of [...named, ...stops.map((stop) => stop.line)]) {
    expect(line >= 1 && line <= lines).toBe(true);
  }
  for (const [axis, range] of [envelopeMm.x, envelopeMm.y].entries()) {
    // What is marked lies within what is moved through, but for the rounding of shifts.
    const inside = (mm: number) => mm >= range![0] - 1e-6 && mm <= range![1] + 1e-6;
    for (const { fromMm, toMm } of strokes) {
      expect(inside(fromMm[axis]!) && inside(toMm[axis]!)).toBe(true);
    }
    for (const { centreMm } of holes) expect(inside(centreMm[axis]!)).toBe(true);
  }
}

test(
  'programs of flow and parameters thrown together are read or refused with a line',
  () => {
    fc.assert(fc.property(program, expectReadOrRefused), DRAW);
  },
  TIMEOUT_MS,
);

test(
  'moves, cycles and coordinates thrown together are read or refused with a line',
  () => {
    fc.assert(fc.property(motionProgram, expectReadOrRefused), DRAW);
  },
  TIMEOUT_MS,
);

test(
  'characters thrown together are read or refused with a line',
  () => {
    const character = fc.constantFrom(...'GXYOMN#[]<>=*/+-.0123456789 ()%;,\n\r\tabdefilnorstuw');
    const text = fc.string({ unit: character, maxLength: 80 });
    fc.assert(
      fc.property(text, (tail) => expectReadOrRefused(`G21 M3 S1\n${tail}`)),
      DRAW,
    );
  },
  TIMEOUT_MS,
);
