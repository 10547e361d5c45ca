import { describe, expect, it } from 'vitest';
import {
  COMMON_SCALE,
  LOST_MOTION_X,
  LOST_MOTION_Y,
  machineModel,
  SCALE_DIFFERENCE,
  SQUARENESS,
} from '../../../src/machine/index.js';

const LINES_X = [0, 100, 200, 300, 400, 500, 600];
const LINES_Y = [0, 100, 200, 300, 400];

function machine(gantryAxis: 'x' | 'y' | 'none' = 'y') {
  const model = machineModel({ linesAtX: LINES_X, linesAtY: LINES_Y, gantryAxis });
  return { model, parameters: new Float64Array(model.terms.length) };
}

describe('where a mark lands', () => {
  it('a true machine marks where it was told to', () => {
    const { model, parameters } = machine();
    expect(model.across('x', parameters, 300, 200, 3, 1)).toBe(300);
    expect(model.across('y', parameters, 300, 200, 2, -1)).toBe(200);
  });

  it('a Y axis that leans toward +X by 1 mm/m puts a mark 400 mm up 0.4 mm to +X, and not in Y', () => {
    const { model, parameters } = machine();
    parameters[SQUARENESS] = 1e-3;
    expect(model.across('x', parameters, 300, 400, 3, 0)).toBeCloseTo(300.4, 12);
    expect(model.across('y', parameters, 300, 400, 4, 0)).toBe(400);
  });

  it('scales: common 1 mm/m and half a difference of 0.5 mm/m make X 1.5 and Y 0.5 mm/m too long', () => {
    const { model, parameters } = machine();
    parameters[COMMON_SCALE] = 1e-3;
    parameters[SCALE_DIFFERENCE] = 0.5e-3;
    // 1.001 · 1.0005 = 1.0015005; 1.001 · 0.9995 = 1.0004995
    expect(model.across('x', parameters, 600, 0, 6, 0)).toBeCloseTo(600.9003, 9);
    expect(model.across('y', parameters, 0, 400, 4, 0)).toBeCloseTo(400.1998, 9);
  });

  it('lost motion leaves the carriage half of it short on either side', () => {
    const { model, parameters } = machine();
    parameters[LOST_MOTION_X] = 0.2;
    parameters[LOST_MOTION_Y] = 0.1;
    expect(model.across('x', parameters, 100, 0, 1, 1)).toBeCloseTo(99.9, 12);
    expect(model.across('x', parameters, 100, 0, 1, -1)).toBeCloseTo(100.1, 12);
    expect(model.across('y', parameters, 0, 100, 1, 1)).toBeCloseTo(99.95, 12);
  });

  it('a gantry along Y that yaws counter-clockwise lifts its +X side and sinks its -X side', () => {
    const { model, parameters } = machine('y');
    const [slope] = model.index.yaw;
    parameters[slope] = 1e-4;
    const yawAtTop = model.yaw(parameters, 400);
    expect(yawAtTop).toBeGreaterThan(0);
    // The middle between the drives, x = 300, stays.
    expect(model.across('y', parameters, 300, 400, 4, 0)).toBeCloseTo(400, 12);
    expect(model.across('y', parameters, 600, 400, 4, 0)).toBeCloseTo(400 + 300 * yawAtTop, 12);
    expect(model.across('y', parameters, 0, 400, 4, 0)).toBeCloseTo(400 - 300 * yawAtTop, 12);
  });

  it('a gantry along X that yaws counter-clockwise swings its +Y end toward -X', () => {
    const { model, parameters } = machine('x');
    parameters[model.index.yaw[0]] = 1e-4;
    const yaw = model.yaw(parameters, 600);
    expect(model.across('x', parameters, 600, 400, 6, 0)).toBeCloseTo(600 - 200 * yaw, 12);
  });

  it('a moving table has no yaw of a gantry', () => {
    expect(machine('none').model.index.yaw).toEqual([]);
  });

  it('between two lines a place takes its share of both lines deviations', () => {
    const { model, parameters } = machine();
    parameters[model.index.lineX + 1] = 0.04;
    parameters[model.index.lineX + 2] = 0.08;
    expect(model.across('x', parameters, 125, 0, undefined, 0)).toBeCloseTo(125.05, 12);
  });
});

describe('straightness and yaw', () => {
  it('hold no constant and no slope over the lines, whatever their coefficients', () => {
    const { model, parameters } = machine();
    model.index.straightnessX.forEach((term, k) => {
      parameters[term] = 0.05 * (k + 1);
    });
    const values = LINES_Y.map((y) => model.straightnessInX(parameters, y));
    const sum = values.reduce((a, b) => a + b, 0);
    const slope = values.reduce((a, b, i) => a + b * (LINES_Y[i] - 200), 0);
    expect(Math.max(...values.map(Math.abs))).toBeGreaterThan(0.01);
    expect(Math.abs(sum)).toBeLessThan(1e-12);
    expect(Math.abs(slope)).toBeLessThan(1e-9);
  });
});
