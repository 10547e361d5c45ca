import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type GridPlan,
  layOutGrid,
  PLAN_DEFAULTS,
  type PlanChoices,
  writeFlatProgram,
  writeParametricProgram,
} from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

/** Fixed, so that a failure can be repeated. */
const SEED = 20_261_125;
const PLANS = 200;
/** Both programs hold the plan's own decimals; computing may add rounding of the last bits. */
const SAME_MM = 1e-6;

const lengths = (min: number, max: number, step: number) =>
  fc.integer({ min: Math.ceil(min / step), max: Math.floor(max / step) }).map((k) => k * step);

const inserts = fc.record({
  every: fc.integer({ min: 1, max: 4 }),
  holeDiameterMm: lengths(6, 9, 0.5),
  holeDepthMm: lengths(6, 25, 0.5),
  counterbore: fc.option(
    fc.record({ diameterMm: lengths(9.5, 10, 0.5), depthMm: lengths(1, 5, 0.5) }),
    {
      nil: undefined,
    },
  ),
  toolDiameterMm: fc.constantFrom(3, 3.175, 4, 6),
  depthPerPassMm: fc.constantFrom(1, 2, 3.5),
});

const choices: fc.Arbitrary<PlanChoices> = fc
  .record({
    units: fc.constantFrom('mm' as const, 'in' as const),
    marking: fc.constantFrom('laser' as const, 'cutter' as const),
    spacing: lengths(20, 120, 0.25),
    linesX: lengths(5, 30, 1),
    linesY: lengths(5, 30, 1),
    extraX: lengths(0, 60, 0.37),
    extraY: lengths(0, 60, 0.37),
    marginMm: lengths(16, 40, 0.5),
    periodX: fc.option(fc.constantFrom(2, 5, 10, 25.4, 62.832, 94.248), { nil: undefined }),
    cellCodes: fc.boolean(),
    turned: fc.boolean(),
    inserts: fc.option(inserts, { nil: undefined }),
  })
  .map(({ spacing, linesX, linesY, extraX, extraY, periodX, inserts: chosen, ...rest }) => ({
    ...PLAN_DEFAULTS[rest.marking],
    depthMm: PLAN_DEFAULTS.depthMm,
    bitAngleDeg: PLAN_DEFAULTS.bitAngleDeg,
    clearanceMm: PLAN_DEFAULTS.clearanceMm,
    plungeFeedMmPerMin: PLAN_DEFAULTS.plungeFeedMmPerMin,
    ...rest,
    spacingMm: spacing,
    travelMm: [
      (linesX - 1) * spacing + 2 * rest.marginMm + extraX,
      (linesY - 1) * spacing + 2 * rest.marginMm + extraY,
    ] as const,
    periodsMm: periodX === undefined ? {} : { x: periodX },
    ...(chosen === undefined || rest.turned
      ? {}
      : { inserts: { ...PLAN_DEFAULTS.inserts, ...withoutUndefined(chosen) } }),
  }));

function withoutUndefined<T extends object>(given: T) {
  return Object.fromEntries(Object.entries(given).filter(([, value]) => value !== undefined)) as {
    [K in keyof T]: Exclude<T[K], undefined>;
  };
}

describe('a program that was laid out', () => {
  it('marks, read back, what the plan says: 200 random plans, flat and parametric', () => {
    let second = 0;
    let drilled = 0;
    fc.assert(
      fc.property(choices, (chosen) => {
        for (const placement of chosen.turned
          ? (['first', 'second'] as const)
          : (['only'] as const)) {
          const plan = unwrap(layOutGrid(chosen, placement));
          expectMarks(plan, writeFlatProgram(plan, 'grid'));
          expectMarks(plan, writeParametricProgram(plan, 'grid'));
          if (placement === 'second') second += 1;
          if (plan.holes.length > 0) drilled += 1;
        }
      }),
      { seed: SEED, numRuns: PLANS },
    );
    // The draw must reach the special cases.
    expect(second).toBeGreaterThan(20);
    expect(drilled).toBeGreaterThan(20);
  });
});

function expectMarks({ marks, holes, layout, choices: { marking } }: GridPlan, text: string): void {
  const mm = layout.mmPerUnit;
  for (const blockDelete of [true, false]) {
    const read = unwrap(readProgram(text, { name: 'grid', marking, blockDelete }));
    expect(read.strokes.length).toBe(marks.length);
    const wrong = marks.filter(({ from, to, sense }, i) => {
      const stroke = read.strokes[i]!;
      const isNear = (place: readonly number[], meant: readonly number[]) =>
        [0, 1].every((axis) => Math.abs(place[axis]! - meant[axis]! * mm) < SAME_MM);
      // An axis that the mark itself moves goes its way; the other one came from the side chosen.
      const own = (axis: 0 | 1) => Math.sign(to[axis] - from[axis]) || sense;
      return !(
        isNear(stroke.fromMm, from) &&
        isNear(stroke.toMm, to) &&
        stroke.approachX === own(0) &&
        stroke.approachY === own(1)
      );
    });
    expect(wrong).toEqual([]);
    // Block delete takes the second stage out.
    const expected = blockDelete ? [] : holes;
    expect(read.holes.map(({ centreMm }) => centreMm.map(rounded))).toEqual(
      expected.map(({ centre }) => centre.map((value) => rounded(value * mm))),
    );
    expect(read.holes.map(({ steps }) => stepsText(steps))).toEqual(
      expected.map(({ rings }) =>
        stepsText(
          rings.map(({ radius, toDepth }) => ({
            pathDiameterMm: 2 * radius * mm,
            bottomMm: -toDepth * mm,
          })),
        ),
      ),
    );
  }
}

/** Path diameters with the deepest bottom of each, in order of the diameters. */
function stepsText(steps: readonly { pathDiameterMm: number; bottomMm: number | undefined }[]) {
  const deepest = new Map<number, number>();
  for (const { pathDiameterMm, bottomMm } of steps) {
    const key = rounded(pathDiameterMm);
    deepest.set(key, Math.min(deepest.get(key) ?? 0, rounded(bottomMm!)));
  }
  return [...deepest].sort((a, b) => a[0] - b[0]);
}

function rounded(value: number): number {
  return Number(value.toFixed(5)) + 0;
}
