import { describe, expect, it } from 'vitest';
import {
  COMMON_SCALE,
  drivePeriods,
  LOST_MOTION_X,
  LOST_MOTION_Y,
  machineModel,
  SCALE_DIFFERENCE,
  SQUARENESS,
  stepsByGeometry,
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

  it('what drifted since moves marks that are made again, and no others', () => {
    const { model, parameters } = machine();
    parameters[model.index.driftX] = 0.1;
    const at = (isRepeated: boolean) =>
      model.across('x', parameters, 100, 0, 1, 0, undefined, isRepeated);
    expect([at(false), at(true)]).toEqual([100, 100.1]);
  });

  it('a moving table has no yaw of a gantry', () => {
    expect(machine('none').model.index.yaw).toEqual([]);
  });

  it('between two lines a place takes its share of both lines deviations', () => {
    const { model, parameters } = machine();
    parameters[model.index.lineX + 1] = 0.04;
    parameters[model.index.lineX + 2] = 0.08;
    expect(model.across('x', parameters, 125, 0, undefined, 0)).toBeCloseTo(125.05, 12);
    // On a line it takes that line's alone; beyond the ends that of the end.
    expect(model.across('x', parameters, 200, 0, undefined, 0)).toBeCloseTo(200.08, 12);
    parameters[model.index.lineX] = 0.01;
    parameters[model.index.lineX + 6] = -0.03;
    expect(model.across('x', parameters, -50, 0, undefined, 0)).toBeCloseTo(-49.99, 12);
    expect(model.across('x', parameters, 650, 0, undefined, 0)).toBeCloseTo(649.97, 12);
  });
});

describe('derivatives by the terms', () => {
  it.each(['x', 'y', 'none'] as const)(
    'are those of small steps, gantry along %s',
    (gantryAxis) => {
      const model = machineModel({
        linesAtX: LINES_X,
        linesAtY: LINES_Y,
        rungsAtX: [50, 150],
        rungsAtY: [250],
        periodsMm: { x: 70, y: 45 },
        gantryAxis,
      });
      const parameters = Float64Array.from(model.terms, (_, k) => 1e-3 * Math.sin(1 + 3 * k));
      const places = [
        [undefined, 137, 262],
        [2, 200, 200],
        [7, 50, 250],
      ] as const;
      const step = 1e-4;
      const reached = new Set<number>();
      for (const axis of ['x', 'y'] as const) {
        for (const [line, x, y] of places) {
          // Of five lines along Y the first rung is the sixth.
          const own = axis === 'y' && line === 7 ? 5 : line;
          for (const [approach, repeated] of [
            [1, false],
            [-1, true],
          ] as const) {
            const analytic = new Float64Array(model.terms.length);
            const sink = (term: number, slope: number) => {
              analytic[term]! += slope;
              reached.add(term);
            };
            model.across(axis, parameters, x, y, own, approach, sink, repeated);
            model.terms.forEach(({ name }, term) => {
              const at = (by: number) => {
                const moved = parameters.slice();
                moved[term]! += by;
                return model.across(axis, moved, x, y, own, approach, undefined, repeated);
              };
              // Quadratic in all: central differences are exact but for rounding, 1e-13 of 600 mm over the step.
              const numeric = (at(step) - at(-step)) / (2 * step);
              expect(Math.abs(analytic[term]! - numeric), name).toBeLessThan(1e-6);
            });
          }
        }
      }
      expect(reached.size).toBeGreaterThan(model.terms.length / 2);
    },
  );
});

describe('the position of a line', () => {
  it('is its own deviation, of a rung that of the rung with what the ladder drifted', () => {
    const layout = { linesAtX: LINES_X, linesAtY: LINES_Y, gantryAxis: 'y' } as const;
    const model = machineModel({ ...layout, rungsAtX: [50, 150] });
    const parameters = new Float64Array(model.terms.length);
    parameters[model.index.lineX + 2] = 0.03;
    parameters[model.index.rungX + 1] = 0.02;
    parameters[model.index.ladderX] = 0.005;
    const at = (line: number) => model.position('x', parameters, line);
    expect([at(1), at(2)]).toEqual([0, 0.03]);
    // Behind seven lines: the first rung has only the ladder's drift.
    expect(at(7)).toBeCloseTo(0.005, 15);
    expect(at(8)).toBeCloseTo(0.025, 15);
    // A smooth part is read at the place of the line or the rung itself.
    parameters.fill(0)[model.index.progressionX[0]!] = 0.04;
    const smooth = (x: number) => model.across('x', parameters, x, 0, undefined, 0) - x;
    expect(at(1)).toBeCloseTo(smooth(100), 12);
    expect(at(8)).toBeCloseTo(smooth(150), 12);
    expect(Math.abs(at(8) - at(1))).toBeGreaterThan(1e-3);
  });
});

describe('the terms of the model', () => {
  it('have each a name of their own, a kind and a size that is believed before', () => {
    const { terms } = machine().model;
    expect(new Set(terms.map(({ name }) => name)).size).toBe(terms.length);
    for (const { name, kind, priorSigma } of terms) {
      expect(kind, name).toBeTruthy();
      expect(priorSigma, name).toBeGreaterThan(0);
      expect(priorSigma, name).toBeLessThan(10);
    }
    // The slope of yaw is the gantry's sides pulling unequally, its bends are the guides'.
    const [slope, bend] = machine().model.index.yaw;
    expect(terms[slope!]!.priorSigma).toBeGreaterThan(terms[bend!]!.priorSigma);
  });

  it('have no more shapes than half the lines can carry, and six at most', () => {
    const model = machineModel({
      linesAtX: [0, 100, 200, 300],
      linesAtY: Array.from({ length: 20 }, (_, i) => 50 * i),
      gantryAxis: 'none',
    });
    // From degree 2 on: constant and slope have terms of their own. 4 / 2 = 2; of 20 / 2 = 10 six are kept.
    expect(model.index.straightnessY).toHaveLength(1);
    expect(model.index.progressionX).toHaveLength(1);
    expect(model.index.straightnessX).toHaveLength(5);
    expect(model.index.progressionY).toHaveLength(5);
  });

  it.each(['X', 'Y'] as const)('of one kind along %s share its size', (axis) => {
    const { model } = machine();
    const kinds = (terms: readonly number[]) => terms.map((term) => model.terms[term]!.kind);
    expect(new Set(kinds(model.index[`straightness${axis}`]))).toEqual(new Set(['straightness']));
    expect(new Set(kinds(model.index[`progression${axis}`]))).toEqual(new Set(['progression']));
  });

  it('are one for each line, and for rungs only where there are any', () => {
    const { index, terms } = machine().model;
    expect([index.lineY - index.lineX, index.rungX - index.lineY]).toEqual([7, 5]);
    expect(terms.filter(({ kind }) => kind === 'rung')).toEqual([]);
    const layout = { linesAtX: LINES_X, linesAtY: LINES_Y, gantryAxis: 'y' } as const;
    const withRungs = machineModel({ ...layout, rungsAtX: [20, 40, 60], rungsAtY: [30] });
    expect(withRungs.terms.filter(({ kind }) => kind === 'rung')).toHaveLength(4);
  });

  it('hold a period only where the drive has one', () => {
    expect(machine().model.index.periodicX).toEqual([]);
    const layout = { linesAtX: LINES_X, linesAtY: LINES_Y, gantryAxis: 'y' } as const;
    const { index } = machineModel({ ...layout, periodsMm: { y: 37 } });
    expect(index.periodicX).toEqual([]);
    expect(index.periodicY).toHaveLength(2);
  });
});

describe('straightness and yaw', () => {
  it('move a mark across its axis by what they say of its place', () => {
    const { model, parameters } = machine('none');
    parameters[model.index.straightnessX[0]!] = 0.05;
    parameters[model.index.straightnessY[0]!] = 0.07;
    const inX = model.straightnessInX(parameters, 400);
    const inY = model.straightnessInY(parameters, 600);
    expect(Math.min(Math.abs(inX), Math.abs(inY))).toBeGreaterThan(0.01);
    expect(model.across('x', parameters, 600, 400, 6, 0)).toBeCloseTo(600 + inX, 12);
    expect(model.across('y', parameters, 600, 400, 4, 0)).toBeCloseTo(400 + inY, 12);
  });

  it('vary along the travel of the gantry, whichever axis that is', () => {
    const along = { x: LINES_X, y: LINES_Y };
    for (const axis of ['x', 'y'] as const) {
      const { model, parameters } = machine(axis);
      parameters[model.index.yaw[0]!] = 1e-4;
      const middle = (along[axis][0]! + along[axis].at(-1)!) / 2;
      expect(model.yaw(parameters, middle)).toBeCloseTo(0, 15);
      expect(Math.abs(model.yaw(parameters, middle + 100))).toBeGreaterThan(1e-5);
    }
  });

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

describe('a periodic deviation', () => {
  it('holds no constant and no slope over the lines, and is a wave of the period beside them', () => {
    const layout = { linesAtX: LINES_X, linesAtY: LINES_Y, gantryAxis: 'y' } as const;
    const model = machineModel({ ...layout, periodsMm: { x: 83 } });
    const parameters = new Float64Array(model.terms.length);
    parameters[model.index.periodicX[0]!] = 0.05;
    parameters[model.index.periodicX[1]!] = -0.03;
    const at = (x: number) => model.across('x', parameters, x, 0, undefined, 0) - x;
    const values = LINES_X.map(at);
    expect(values.reduce((a, b) => a + b, 0)).toBeCloseTo(0, 12);
    expect(values.reduce((a, b, i) => a + b * (LINES_X[i]! - 300), 0)).toBeCloseTo(0, 9);
    // A straight line apart it repeats: second differences over one period vanish.
    expect(at(20) - 2 * at(103) + at(186)).toBeCloseTo(0, 12);
    const wave = (x: number) =>
      0.05 * Math.cos((2 * Math.PI * x) / 83) - 0.03 * Math.sin((2 * Math.PI * x) / 83);
    // Less any straight line, second differences over any distance are those of the wave itself.
    expect(at(20) - 2 * at(60) + at(100)).toBeCloseTo(wave(20) - 2 * wave(60) + wave(100), 12);
  });
});

describe('periods of the drives', () => {
  it('are the travel per turn of each axis, and absent without a machine file', () => {
    for (const none of [undefined, {}]) expect(drivePeriods(none)).toStrictEqual({});
    const axis = { pitch: 5, starts: 2 } as const;
    expect(drivePeriods({ axes: { x: axis } })).toStrictEqual({ x: 10 });
  });
});

describe('steps per mm by geometry', () => {
  it('are unknown where steps or travel per turn are', () => {
    expect(stepsByGeometry({ stepsPerTurn: 1600, pitch: 5, starts: 2 })).toBe(160);
    for (const axis of [undefined, { stepsPerTurn: 1600 }, { pitch: 5, starts: 2 }]) {
      expect(stepsByGeometry(axis)).toBeUndefined();
    }
  });
});
