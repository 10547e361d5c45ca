import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import {
  curveValue,
  gridProgram,
  landedPosition,
  lineDeviation,
  type MachineErrors,
  machineTruth,
  randomScene,
} from '../../../samples/index.js';

const FLAT = { fromMm: 0, toMm: 400, legendre: [] };
const PERFECT: MachineErrors = {
  scaleX: 0,
  scaleY: 0,
  squarenessRad: 0,
  lostMotionXMm: 0,
  lostMotionYMm: 0,
  lostMotionGradient: 0,
  positionX: { atMm: [], deviationMm: [] },
  positionY: { atMm: [], deviationMm: [] },
  straightnessX: FLAT,
  straightnessY: FLAT,
  yaw: FLAT,
  gantryAxis: 'y',
  drivesMiddleMm: 200,
};

function landed(errors: Partial<MachineErrors>, x: number, y: number, dx = 0, dy = 0) {
  const sense = (d: number) => d as -1 | 0 | 1;
  return landedPosition({ ...PERFECT, ...errors }, x, y, sense(dx), sense(dy));
}

function expectNear(actual: readonly number[], x: number, y: number): void {
  expect(actual[0]).toBeCloseTo(x, 9);
  expect(actual[1]).toBeCloseTo(y, 9);
}

describe('the simulated machine', () => {
  it('without errors puts marks where they are commanded', () => {
    expectNear(landed({}, 123, 45, 1, -1), 123, 45);
  });

  it('with + scale travels too far', () => {
    expectNear(landed({ scaleX: 1e-3, scaleY: -5e-4 }, 400, 200), 400.4, 199.9);
  });

  it('with + squareness leans its Y axis toward +X', () => {
    expectNear(landed({ squarenessRad: 1e-3 }, 0, 300), 0.3, 300);
  });

  it('with + lost motion stops short on the side it comes from', () => {
    const errors = { lostMotionXMm: 0.1, lostMotionYMm: 0.2 };
    expectNear(landed(errors, 10, 20, 1, 1), 9.95, 19.9);
    expectNear(landed(errors, 10, 20, -1, -1), 10.05, 20.1);
  });

  it('shows a bent X guide in Y and a bent Y guide in X', () => {
    const bow = { fromMm: 0, toMm: 400, legendre: [0, 0, 0.04] };
    // P2 is 1 at the ends and -1/2 in the middle.
    expectNear(landed({ straightnessX: bow }, 0, 100), 0, 100.04);
    expectNear(landed({ straightnessX: bow }, 200, 100), 200, 99.98);
    expectNear(landed({ straightnessY: bow }, 100, 200), 99.98, 200);
  });

  it('with + yaw of the gantry lifts the +X side toward +Y, about the drives’ middle', () => {
    const yaw = { fromMm: 0, toMm: 400, legendre: [1e-4] };
    expectNear(landed({ yaw }, 400, 0), 400, 0.02);
    expectNear(landed({ yaw }, 200, 0), 200, 0);
    expectNear(landed({ yaw, gantryAxis: 'x' }, 0, 400), -0.02, 400);
  });

  it('takes single deviations from their table and adds the periodic part', () => {
    const positionX = {
      atMm: [0, 100],
      deviationMm: [0.02, 0.04],
      periodic: { amplitudeMm: 0.01, periodMm: 8, phaseRad: 0 },
    };
    // 2 mm is a quarter of the period.
    expect(lineDeviation(positionX, 50 + 4 * 8 - 32)).toBeCloseTo(0.03 + 0.01, 9);
    expectNear(landed({ positionX }, 2, 0), 2 + 0.0204 + 0.01, 0);
  });

  it('values Legendre curves of order 3 and 4 as the tables do', () => {
    // P3(1/2) = -7/16, P4(1/2) = -37/128.
    const at = (legendre: number[]) => curveValue({ fromMm: -1, toMm: 1, legendre }, 0.5);
    expect(at([0, 0, 0, 1])).toBeCloseTo(-7 / 16, 12);
    expect(at([0, 0, 0, 0, 1])).toBeCloseTo(-37 / 128, 12);
  });
});

describe('the truth of a machine', () => {
  const { strokes } = gridProgram({ xMm: [0, 40, 80, 120, 160], yMm: [0, 40, 80, 120] });

  it.each(['y', 'x'] as const)(
    'agrees with the affine map fitted to the landed crossings (gantry along %s)',
    (gantryAxis) => {
      const { machine } = randomScene(7, strokes, {
        gantryAxis,
        machine: {
          // Constants and slopes everywhere, so that the gauge has something to take out.
          straightnessX: { fromMm: 0, toMm: 160, legendre: [0.03, 0.05, 0.02] },
          straightnessY: { fromMm: 0, toMm: 120, legendre: [0.01, -0.04, 0.02] },
          yaw: { fromMm: 0, toMm: gantryAxis === 'y' ? 120 : 160, legendre: [4e-4, 2e-4, 1e-4] },
        },
      }).scene;
      const truth = machineTruth(machine, strokes);
      const places = [0, 40, 80, 120, 160].flatMap((x) => [0, 40, 80, 120].map((y) => [x, y]));
      const design = new Matrix(places.map(([x, y]) => [1, x as number, y as number]));
      const marks = places.map(([x, y]) => landedPosition(machine, x as number, y as number, 0, 0));
      const fitted = solve(design, new Matrix(marks), true);
      const xAlongX = fitted.get(1, 0);
      const yAlongX = fitted.get(1, 1);
      const xAlongY = fitted.get(2, 0);
      const yAlongY = fitted.get(2, 1);
      const angle = Math.atan2(yAlongY, xAlongY) - Math.atan2(yAlongX, xAlongX);
      // Products of two errors of 2e-3 are left out of the truth.
      const secondOrder = 5e-6;
      expect(Math.abs(Math.PI / 2 - angle - truth.squareness)).toBeLessThan(secondOrder);
      expect(Math.abs(xAlongX - 1 - truth.scale.x)).toBeLessThan(secondOrder);
      expect(Math.abs(yAlongY - 1 - truth.scale.y)).toBeLessThan(secondOrder);
      expect(truth.gauge.meanYawRad).toBeGreaterThan(1e-4);
    },
  );

  it('counts straightness from peak to valley, whatever the slope', () => {
    const bow = { fromMm: 0, toMm: 160, legendre: [0.5, 0.3, 0.04] };
    const truth = machineTruth({ ...PERFECT, straightnessX: bow }, strokes);
    // P2 runs from -1/2 to 1.
    expect(truth.straightness.x).toBeCloseTo(0.06, 6);
    expect(truth.straightness.y).toBe(0);
  });

  it('gives racking as the yaw’s slope per metre', () => {
    const yaw = { fromMm: 0, toMm: 120, legendre: [0, 6e-5] };
    expect(machineTruth({ ...PERFECT, yaw }, strokes).racking).toBeCloseTo(1e-3, 9);
  });
});
