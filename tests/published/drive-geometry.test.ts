/** What drives travel per turn. Sources beside each. */
import { describe, expect, it } from 'vitest';
import type { AxisFile } from '../../shared/schemas/machine.js';
import { stepsByGeometry, travelPerTurn } from '../../src/machine/index.js';

const DRIVES: readonly [what: string, axis: AxisFile, travelMm: number][] = [
  [
    'a pinion of module 1 with 20 straight teeth: 62.83 mm (π m z; common practice, no source)',
    { module: 1, teeth: 20 },
    62.832,
  ],
  ['a pinion of module 1.5 with 20 straight teeth: 94.25 mm', { module: 1.5, teeth: 20 }, 94.248],
  [
    // Helical racks are cut to a whole pitch: 6.667 mm for module 2 at 19°31'42" (rack catalogues, value from memory).
    'a pinion of module 2 with 20 helical teeth at 19°31′42″: 20 × 6.6667 mm',
    { module: 2, teeth: 20, helixAngle: 19 + 31 / 60 + 42 / 3600 },
    133.3333,
  ],
  ['a pulley of 20 teeth for a belt of 2 mm pitch: 40 mm', { teeth: 20, pitch: 2 }, 40],
  ['a pulley of 25 teeth for a belt of 5 mm pitch: 125 mm', { teeth: 25, pitch: 5 }, 125],
  ['a screw of 2 mm pitch with 4 starts: 8 mm', { pitch: 2, starts: 4 }, 8],
];

describe('travel per turn', () => {
  it.each(DRIVES)('of %s', (_, axis, travelMm) => {
    // The angle is given to a second, which is 6e-7 of the travel.
    expect(Math.abs(travelPerTurn(axis)! / travelMm - 1)).toBeLessThan(5e-6);
  });

  it('as stated outright goes before the parts', () => {
    expect(travelPerTurn({ lead: 5, pitch: 2, starts: 4 })).toBe(5);
  });

  it('is not known from half of the parts', () => {
    expect(travelPerTurn({ teeth: 20 })).toBeUndefined();
    expect(travelPerTurn({})).toBeUndefined();
  });
});

describe('steps per mm by geometry', () => {
  it.each([
    // 200 full steps × 16 microsteps over 40 mm of belt: 80 (common practice, no source).
    [{ stepsPerTurn: 3200, teeth: 20, pitch: 2 }, 80],
    // 200 × 8 over a lead of 5 mm: 320.
    [{ stepsPerTurn: 1600, lead: 5 }, 320],
    // 1600 × a reduction of 5 : 1 over 94.248 mm: 84.88.
    [{ stepsPerTurn: 1600, reduction: 5, module: 1.5, teeth: 20 }, 84.883],
  ] as const)('%o: %d', (axis, steps) => {
    expect(stepsByGeometry(axis)).toBeCloseTo(steps, 3);
  });

  it('are not known without the motor', () => {
    expect(stepsByGeometry({ lead: 5 })).toBeUndefined();
  });
});
