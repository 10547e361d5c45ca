/** Whatever a program holds, compensating it ends in a program or in a failure that names what to do. */

import fc from 'fast-check';
import { expect, it } from 'vitest';
import { COMPENSATED_TERMS, compensate } from '../../src/compensation/index.js';
import { estimate, makeMeasurement } from '../unit/report/make-measurement.js';

const RUNS = { seed: 20_263, numRuns: 3000 } as const;

const at = [0, 120, 240, 360, 480, 600, 720];
const MEASUREMENT = makeMeasurement({
  straightness: { x: estimate(0.1, 0.01, 'mm'), y: estimate(0.1, 0.01, 'mm') },
  straightnessCurve: {
    x: at.map((x) => ({ at: x, value: 0.1 * ((x - 360) / 360) ** 2, u: 0.002 })),
    y: at.slice(0, 5).map((y) => ({ at: y, value: 0.1 * ((y - 240) / 240) ** 2, u: 0.002 })),
  },
});

/** Words whose meetings are awkward: names of places, units, planes, lost positions, arcs, cycles, flow. */
const CODES = [
  ...[
    'G0',
    'G1',
    'G2',
    'G3',
    'G17',
    'G18',
    'G19',
    'G20',
    'G21',
    'G28',
    'G30',
    'G40',
    'G43 H1',
    'G52',
    'G53',
  ],
  ...[
    'G54',
    'G55',
    'G80',
    'G81',
    'G90',
    'G91',
    'G90.1',
    'G91.1',
    'G92',
    'G92.1',
    'G92.2',
    'G92.3',
    'G98',
    'G99',
  ],
  ...[
    'G10 L2 P1',
    'G10 L20 P1',
    'G10 L20 P0',
    'G10 L2 P2',
    'G4 P1',
    'G64',
    'G61',
    'M0',
    'M3 S9',
    'M5',
    'M30',
    'M6 T1',
  ],
  ...['F100', 'N5', '(x)', '#1=5', '#1=[#1+2]', '/', ''],
];
const LENGTHS = [
  '0',
  '0.',
  '1',
  '-2.5',
  '10',
  '33.3333',
  '100',
  '250.0004',
  '-0.0002',
  '[1+2]',
  '#1',
  '600',
];
const word = fc
  .tuple(fc.constantFrom(...'XYZIJKRLP'), fc.constantFrom(...LENGTHS))
  .map(([letter, length]) => `${letter}${letter === 'L' || letter === 'P' ? '2' : length}`);
const line = fc
  .tuple(
    fc.array(fc.constantFrom(...CODES), { maxLength: 2 }),
    fc.uniqueArray(word, { maxLength: 4, selector: ([letter]) => letter }),
    fc.constantFrom('', ' '),
  )
  .map(([codes, words, gap]) => [...codes, ...words].join(gap));
const looped = fc
  .tuple(fc.array(line, { maxLength: 4 }), fc.nat(3))
  .map(([body, times]) => ['O1 repeat [2]', ...body.slice(0, times + 1), 'O1 endrepeat']);
const program = fc
  .tuple(
    fc.constantFrom('G21 G90 G0 X1 Y1 Z1', '#1=3\nG0 X5 Y5', 'G20G91', '%\nG90 G1 X0 Y0 F9', ''),
    fc.array(line, { maxLength: 9 }),
    fc.option(looped, { nil: [] }),
    fc.constantFrom('\n', '\r\n', '\r'),
  )
  .map(([start, lines, loop, end]) => [start, ...lines, ...loop, 'M30'].join(end));

it('a program of awkward words is compensated or refused, and never both or neither', () => {
  let done = 0;
  fc.assert(
    fc.property(program, (text) => {
      const outcome = compensate({
        ...{ name: 'awkward', text, measurement: MEASUREMENT, measurementSha256: '0'.repeat(64) },
        ...{ wanted: new Set(COMPENSATED_TERMS), toleranceMm: 0.02, zeroMm: [10, 20] },
      });
      if (outcome.ok) {
        done += 1;
        expect(outcome.value.record.largestMissMm).toBeLessThan(0.0026);
      } else {
        expect(outcome.failure.message).toMatch(/line \d+|neither X nor Y/);
      }
    }),
    RUNS,
  );
  // Else nothing but refusals was tried.
  expect(done).toBeGreaterThan(RUNS.numRuns / 20);
});
