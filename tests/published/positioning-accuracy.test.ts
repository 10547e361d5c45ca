/** ISO 230-2: an example worked by hand, and two published data sets of real axes. */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { positioningAccuracy } from '../../src/machine/index.js';

describe('positioning accuracy', () => {
  // Worked by hand, µm: means 1, 5 and -2, 3; s √½, √½ and √½, √1.5.
  const example = positioningAccuracy([
    { targetMm: 0, forward: [0, 1, 2, 1, 1], reverse: [-3, -2, -1, -2, -2] },
    { targetMm: 100, forward: [4, 5, 6, 5, 5], reverse: [3, 3, 4, 4, 1] },
  ]);

  it('of two targets and five runs is what the formulas give by hand', () => {
    expect(example.reversal).toBe(3);
    expect(example.meanReversal).toBe(2.5);
    expect([
      example.systematicForward,
      example.systematicReverse,
      example.systematic,
      example.meanRange,
    ]).toEqual([4, 5, 7, 4.5]);
    const repeated = example.repeated!;
    expect(repeated.repeatabilityForward).toBeCloseTo(2 * Math.SQRT2, 12);
    expect(repeated.repeatabilityReverse).toBeCloseTo(4 * Math.sqrt(1.5), 12);
    // 2 √½ + 2 √1.5 + 2.
    expect(repeated.repeatability).toBeCloseTo(5.863703305, 9);
    expect(repeated.accuracyForward).toBeCloseTo(6.828427125, 9);
    expect(repeated.accuracyReverse).toBeCloseTo(8.863703305, 9);
    expect(repeated.accuracy).toBeCloseTo(9.828427125, 9);
  });

  it('does not take the larger one-way figure for the repeatability of the axis', () => {
    const { repeatability, repeatabilityForward, repeatabilityReverse } = example.repeated!;
    expect(repeatability).toBeGreaterThan(Math.max(repeatabilityForward, repeatabilityReverse));
    expect(example.systematic).toBeGreaterThan(
      Math.min(example.systematicForward, example.systematicReverse),
    );
    // A root of sums of squares circulates instead of 2.17: √(2·½ + 2·1.5 + 4) for the second target.
    expect(Math.abs(repeatability - Math.sqrt(8))).toBeGreaterThan(1);
  });

  it('from one run each way tells no scatter', () => {
    const once = positioningAccuracy([
      { targetMm: 0, forward: [0.01], reverse: [0.03] },
      { targetMm: 50, forward: [0.02], reverse: [0.05] },
    ]);
    expect(once).not.toHaveProperty('repeated');
    expect(once.reversal).toBeCloseTo(0.03, 12);
    expect(once.systematic).toBeCloseTo(0.04, 12);
  });

  it('from two runs each way tells scatter', () => {
    // s of 0 and 2 is √2, of 1 and 1 nothing.
    const twice = positioningAccuracy([
      { targetMm: 0, forward: [0, 2], reverse: [1, 1] },
      { targetMm: 50, forward: [1, 1], reverse: [1, 1] },
    ]);
    expect(twice.repeated?.repeatabilityForward).toBeCloseTo(4 * Math.SQRT2, 12);
    expect(twice.repeated?.repeatabilityReverse).toBe(0);
  });

  it('is refused for one target, and for one that was reached from one side', () => {
    const one = { targetMm: 0, forward: [0], reverse: [0] };
    expect(() => positioningAccuracy([one])).toThrow(RangeError);
    expect(() => positioningAccuracy([one, { ...one, reverse: [] }])).toThrow('both sides');
    expect(() => positioningAccuracy([{ ...one, forward: [] }, one])).toThrow('both sides');
  });
});

const FILE = fileURLToPath(new URL('../../../shared/data/iso230_2_examples.json', import.meta.url));
if (!existsSync(FILE)) console.log(`skipped: no outside data beside the checkout (${FILE})`);

interface Runs {
  readonly targets: readonly number[];
  readonly forward: readonly (readonly number[])[];
  readonly backward: readonly (readonly number[])[];
}

/**
 * Test reports of stages: anderssandstrom/ecmc_target_muts_logger, b02/x/x_iso230_2_report.md, and
 * paulscherrerinstitute/ecmccfg, examples/test/fat_sat/report.md. Both print their own R and E by other rules
 * (max of the one-way R, min of the one-way E), which contradict 2.19 and 2.21: those two are not compared.
 */
describe.skipIf(!existsSync(FILE))('published runs of real stages', () => {
  const read = (key: string) => {
    const data = JSON.parse(readFileSync(FILE, 'utf8'))[key] as Runs;
    return positioningAccuracy(
      data.targets.map((targetMm, i) => ({
        targetMm,
        forward: data.forward[i]!.map((one) => one - targetMm),
        reverse: data.backward[i]!.map((one) => one - targetMm),
      })),
    );
  };

  it('of nine targets agree with the report to its five decimals', () => {
    const told = read('b02_x');
    const { repeated } = told;
    expect(told.meanReversal).toBeCloseTo(0.02537, 5);
    expect(told.reversal).toBeCloseTo(0.03358, 5);
    expect(told.systematicForward).toBeCloseTo(0.09065, 5);
    expect(told.systematicReverse).toBeCloseTo(0.09803, 5);
    expect(told.meanRange).toBeCloseTo(0.09365, 5);
    // The report cuts s off after six decimals before it multiplies by four.
    for (const [own, report] of [
      [repeated!.repeatabilityForward, 0.02831],
      [repeated!.repeatabilityReverse, 0.01937],
      [repeated!.accuracyForward, 0.10842],
      [repeated!.accuracyReverse, 0.1115],
      [repeated!.accuracy, 0.13527],
    ] as const) {
      expect(Math.abs(own - report)).toBeLessThan(2e-5);
    }
  });

  it('of five targets agree with the report although the deviations are a millionth of the targets', () => {
    const told = read('psi_fat');
    const { repeated } = told;
    // By the formulas from the published runs: half a unit of the last digit that the report prints.
    for (const [own, expected] of [
      [told.meanReversal, 5.4e-6],
      [told.reversal, 1.22e-5],
      [told.systematicForward, 2.46e-5],
      [told.systematicReverse, 3.3e-5],
      [told.meanRange, 2.77e-5],
      [repeated!.repeatabilityForward, 5.033e-5],
      [repeated!.repeatabilityReverse, 6.29e-5],
      [repeated!.accuracyForward, 6.428e-5],
      [repeated!.accuracyReverse, 8.881e-5],
      [repeated!.accuracy, 8.881e-5],
    ] as const) {
      expect(Math.abs(own - expected)).toBeLessThan(6e-8);
    }
  });
});
