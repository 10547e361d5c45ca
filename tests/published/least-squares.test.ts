/**
 * The solver and its covariance against certified and worked examples: NIST Statistical Reference Datasets
 * (nonlinear: Misra1a, Thurber; linear: Norris, NoInt1, NoInt2), JCGM 100:2008 (GUM) H.1 to H.3, ISO/TS
 * 28037:2010 straight lines.
 */
import { describe, expect, it } from 'vitest';
import {
  invertNormal,
  makeDesignRows,
  minimise,
  NormalEquations,
  quadraticForm,
} from '../../src/numerics/index.js';

interface Point {
  readonly x: number;
  readonly y: number;
  readonly u?: number;
}

interface Fit {
  readonly b: Float64Array;
  readonly sd: readonly number[];
  readonly covariance: Float64Array;
  /** Sum of weighted squares. */
  readonly squares: number;
}

/** Value and derivatives of a model at x. */
type Model = (b: Float64Array, x: number) => { value: number; by: readonly number[] };

/**
 * Fits by the solver of the adjustment.
 *
 * @param isScaleKnown whether the points' u hold as stated; else the scatter tells them.
 */
function adjustTo(
  model: Model,
  points: readonly Point[],
  start: readonly number[],
  isScaleKnown: boolean,
): Fit {
  const size = start.length;
  const weightOf = ({ u = 1 }: Point) => 1 / u ** 2;
  const linearise = (b: Float64Array) => points.map(({ x }) => model(b, x));
  type Linearised = ReturnType<typeof linearise>;
  const squaresOf = (there: Linearised) =>
    points.reduce((sum, p, i) => sum + weightOf(p) * (p.y - there[i]!.value) ** 2, 0);
  const normal = (there: Linearised) => {
    const rows = makeDesignRows(points.length, size);
    const system = new NormalEquations(size);
    points.forEach((point, i) => {
      there[i]!.by.forEach((slope, k) => {
        rows.index[i * size + k] = k;
        rows.value[i * size + k] = slope;
      });
      rows.start[i + 1] = (i + 1) * size;
      rows.count = i + 1;
      system.addRow(rows, i, point.y - there[i]!.value, weightOf(point));
    });
    system.symmetrise();
    return system;
  };
  const { state, linearised } = minimise<Float64Array, Linearised>(
    {
      linearise,
      cost: squaresOf,
      normal,
      stepped: (b, step) => b.map((value, k) => value + step[k]!),
    },
    Float64Array.from(start),
    // Run to where rounding ends it.
    { tolerance: -1, mostSteps: 200 },
  );
  const inverse = invertNormal(normal(linearised).matrix, size)!;
  const squares = squaresOf(linearised);
  const factor = isScaleKnown ? 1 : squares / (points.length - size);
  const covariance = inverse.map((value) => value * factor);
  const sd = start.map((_, k) => Math.sqrt(covariance[k * size + k]!));
  return { b: state, sd, covariance, squares };
}

const LINE: Model = (b, x) => ({ value: b[0]! + b[1]! * x, by: [1, x] });

function pointsOf(xs: string, ys: string, us?: string): Point[] {
  const list = (text: string) => text.trim().split(/\s+/).map(Number);
  const [x, y] = [list(xs), list(ys)];
  const u = us === undefined ? undefined : list(us);
  return x.map((value, i) => ({ x: value, y: y[i]!, ...(u === undefined ? {} : { u: u[i]! }) }));
}

/** Digits that agree with a certified value. */
function digits(found: number, certified: number): number {
  return -Math.log10(Math.max(1e-16, Math.abs(found / certified - 1)));
}

function expectDigits(found: ArrayLike<number>, certified: readonly number[], least: number) {
  certified.forEach((value, k) => {
    expect(digits(found[k]!, value), `value ${k}: ${found[k]} for ${value}`).toBeGreaterThan(least);
  });
}

describe('NIST StRD, nonlinear', () => {
  const misra = pointsOf(
    '77.6 114.9 141.1 190.8 239.9 289.0 332.8 378.4 434.8 477.3 536.8 593.1 689.1 760.0',
    '10.07 14.73 17.94 23.93 29.61 35.18 40.02 44.82 50.76 55.05 61.01 66.40 75.47 81.78',
  );
  const rise: Model = ([b1, b2], x) => {
    const fall = Math.exp(-b2! * x);
    return { value: b1! * (1 - fall), by: [1 - fall, b1! * x * fall] };
  };
  for (const start of [
    [500, 1e-4],
    [250, 5e-4],
  ]) {
    it(`Misra1a from ${start.join(', ')}`, () => {
      const { b, sd, squares } = adjustTo(rise, misra, start, false);
      expectDigits(b, [2.3894212918e2, 5.5015643181e-4], 8);
      expectDigits(sd, [2.7070075241, 7.2668688436e-6], 7);
      expectDigits([squares], [1.2455138894e-1], 9);
    });
  }

  const thurber = pointsOf(
    `-3.067 -2.981 -2.921 -2.912 -2.840 -2.797 -2.702 -2.699 -2.633 -2.481 -2.363 -2.322 -1.501 -1.460
     -1.274 -1.212 -1.100 -1.046 -0.915 -0.714 -0.566 -0.545 -0.400 -0.309 -0.109 -0.103 0.010 0.119 0.377
     0.790 0.963 1.006 1.115 1.572 1.841 2.047 2.200`,
    `80.574 84.248 87.264 87.195 89.076 89.608 89.868 90.101 92.405 95.854 100.696 101.060 401.672 390.724
     567.534 635.316 733.054 759.087 894.206 990.785 1090.109 1080.914 1122.643 1178.351 1260.531 1273.514
     1288.339 1327.543 1353.863 1414.509 1425.208 1421.384 1442.962 1464.350 1468.705 1447.894 1457.628`,
  );
  const quotient: Model = (b, x) => {
    const powers = [1, x, x * x, x * x * x];
    const top = powers.reduce((sum, p, k) => sum + b[k]! * p, 0);
    const bottom = 1 + b[4]! * x + b[5]! * x ** 2 + b[6]! * x ** 3;
    const value = top / bottom;
    return {
      value,
      by: [
        ...powers.map((p) => p / bottom),
        ...[1, 2, 3].map((k) => (-value * powers[k]!) / bottom),
      ],
    };
  };
  for (const start of [
    [1000, 1000, 400, 40, 0.7, 0.3, 0.03],
    [1300, 1500, 500, 75, 1, 0.4, 0.05],
  ]) {
    it(`Thurber from ${start.join(', ')}`, () => {
      const { b, sd, squares } = adjustTo(quotient, thurber, start, false);
      expectDigits(
        b,
        [
          1.28813968e3, 1.4910792535e3, 5.8323836877e2, 7.5416644291e1, 9.6629502864e-1,
          3.9797285797e-1, 4.9727297349e-2,
        ],
        6,
      );
      expectDigits(
        sd,
        [
          4.6647963344, 3.9571156086e1, 2.8698696102e1, 5.567537027, 3.1333340687e-2,
          1.4984928198e-2, 6.5842344623e-3,
        ],
        6,
      );
      expectDigits([squares], [5.6427082397e3], 9);
    });
  }
});

describe('NIST StRD, linear', () => {
  it('Norris', () => {
    const points = pointsOf(
      `0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6
       556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5`,
      `0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8
       557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2`,
    );
    const { b, sd, squares } = adjustTo(LINE, points, [0, 0], false);
    expectDigits(b, [-0.262323073774029, 1.00211681802045], 10);
    expectDigits(sd, [0.232818234301152, 0.429796848199937e-3], 10);
    expectDigits([squares], [26.6173985294224], 10);
  });

  it('NoInt1 and NoInt2', () => {
    const proportional: Model = (b, x) => ({ value: b[0]! * x, by: [x] });
    const first = Array.from({ length: 11 }, (_, i) => ({ x: 60 + i, y: 130 + i }));
    const one = adjustTo(proportional, first, [0], false);
    expectDigits(one.b, [2.07438016528926], 13);
    expectDigits(one.sd, [0.0165289256198347], 12);
    const two = adjustTo(proportional, pointsOf('4 5 6', '3 4 4'), [0], false);
    expectDigits(two.b, [0.727272727272727], 13);
    expectDigits(two.sd, [0.0420827318078432], 12);
  });
});

describe('GUM', () => {
  it('H.1, end gauge: combined standard uncertainty 32 nm', () => {
    // Sensitivities of l = l_S + d - l_S (δα θ + α_S δθ) at δα = δθ = 0, nm; θ = -0.1 °C.
    const lengthNm = 50000623;
    const [alpha, theta] = [11.5e-6, -0.1];
    const inputs = [
      [1, 25],
      [1, 9.7],
      [0, 1.2e-6],
      [0, 0.41],
      [-lengthNm * theta, 0.58e-6],
      [-lengthNm * alpha, 0.029],
    ] as const;
    const size = inputs.length;
    const covariance = new Float64Array(size * size);
    inputs.forEach(([, u], k) => {
      covariance[k * size + k] = u * u;
    });
    const u = Math.sqrt(
      quadraticForm(
        covariance,
        Float64Array.from(inputs, ([c]) => c),
      ),
    );
    expect(u).toBeCloseTo(31.7, 1);
    expect(Math.round(u)).toBe(32);
  });

  it('H.2, resistance and reactance from correlated means', () => {
    const v = [5.007, 4.994, 5.005, 4.99, 4.999];
    const i = [19.663, 19.639, 19.64, 19.685, 19.678].map((mA) => mA * 1e-3);
    const phi = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    const inputs = [v, i, phi];
    const means = inputs.map((list) => list.reduce((sum, value) => sum + value, 0) / list.length);
    const covariance = Float64Array.from({ length: 9 }, (_, k) => {
      const [a, b] = [Math.floor(k / 3), k % 3];
      const products = inputs[a]!.map(
        (value, n) => (value - means[a]!) * (inputs[b]![n]! - means[b]!),
      );
      return products.reduce((sum, value) => sum + value, 0) / (5 * 4);
    });
    const [V, I, P] = means as [number, number, number];
    const byR = Float64Array.from([
      Math.cos(P) / I,
      (-V * Math.cos(P)) / I ** 2,
      (-V * Math.sin(P)) / I,
    ]);
    const byX = Float64Array.from([
      Math.sin(P) / I,
      (-V * Math.sin(P)) / I ** 2,
      (V * Math.cos(P)) / I,
    ]);
    const byZ = Float64Array.from([1 / I, -V / I ** 2, 0]);
    // Published: R 127.732 (0.071), X 219.847 (0.295), Z 254.260 (0.236) ohms.
    expect((V * Math.cos(P)) / I).toBeCloseTo(127.732, 3);
    expect(Math.sqrt(quadraticForm(covariance, byR))).toBeCloseTo(0.071, 3);
    expect(Math.abs(Math.sqrt(quadraticForm(covariance, byX)) - 0.295)).toBeLessThan(0.001);
    expect(Math.sqrt(quadraticForm(covariance, byZ))).toBeCloseTo(0.236, 3);
  });

  it('H.3, calibration of a thermometer: line, standard deviations, correlation, prediction at 30 °C', () => {
    const points = pointsOf(
      '21.521 22.012 22.512 23.003 23.507 23.999 24.513 25.002 25.503 26.010 26.511',
      '-0.171 -0.169 -0.166 -0.159 -0.164 -0.165 -0.156 -0.157 -0.159 -0.161 -0.160',
    ).map(({ x, y }) => ({ x: x - 20, y }));
    const { b, sd, covariance } = adjustTo(LINE, points, [0, 0], false);
    expect(b[0]).toBeCloseTo(-0.1712, 4);
    expect(b[1]).toBeCloseTo(0.00218, 5);
    expect(sd[0]).toBeCloseTo(0.0029, 4);
    expect(sd[1]).toBeCloseTo(0.00067, 5);
    expect(covariance[1]! / (sd[0]! * sd[1]!)).toBeCloseTo(-0.93, 2);
    expect(b[0]! + 10 * b[1]!).toBeCloseTo(-0.1494, 4);
    expect(Math.sqrt(quadraticForm(covariance, Float64Array.from([1, 10])))).toBeCloseTo(0.0041, 4);
  });
});

describe('ISO/TS 28037, straight lines', () => {
  it('equal weights', () => {
    const points = pointsOf('1 2 3 4 5 6', '3.3 5.6 7.1 9.3 10.7 12.1', '.5 .5 .5 .5 .5 .5');
    const { b, sd, covariance, squares } = adjustTo(LINE, points, [0, 0], true);
    expectDigits(b, [1.86666666666667, 1.75714285714286], 11);
    expectDigits(sd, [0.465474668125631, 0.119522860933439], 11);
    expectDigits([covariance[1]!, squares], [-0.05, 1.66476190476], 10);
  });

  it('unequal weights', () => {
    const points = pointsOf('1 2 3 4 5 6', '3.2 4.3 7.6 8.6 11.7 12.8', '.5 .5 .5 1 1 1');
    const { b, sd, covariance, squares } = adjustTo(LINE, points, [0, 0], true);
    expectDigits(b, [0.885232067510549, 2.05696202531646], 11);
    expectDigits(sd, [0.529708143508836, 0.177892016741205], 11);
    expectDigits([covariance[1]!, squares], [-0.0822784810126582, 4.13080168776], 10);
  });

  it('unknown weights, all the same', () => {
    const points = pointsOf('1 2 3 4 5 6', '3.014 5.225 7.004 9.061 11.201 12.762');
    const { b, sd, covariance, squares } = adjustTo(LINE, points, [0, 0], false);
    expectDigits(b, [1.172, 1.96357142857143], 11);
    expectDigits([squares], [0.11649828571], 9);
    expectDigits(sd, [0.158875093196181, 0.0407953578791729], 11);
    expectDigits([covariance[1]!], [-0.00582491428571429], 11);
  });

  it('errors in both coordinates: the true places are unknowns as well', () => {
    const xs = [1.2, 1.9, 2.9, 4.0, 4.7, 5.9];
    const ys = [3.4, 4.4, 7.2, 8.5, 10.8, 13.5];
    const uy = [0.2, 0.2, 0.2, 0.4, 0.4, 0.4];
    // Rows 0 to 5: the places themselves, 6 to 11: the line at those places.
    const points = [
      ...xs.map((y, i) => ({ x: i, y, u: 0.2 })),
      ...ys.map((y, i) => ({ x: 6 + i, y, u: uy[i]! })),
    ];
    const model: Model = (b, row) => {
      const by = new Array<number>(8).fill(0);
      const place = 2 + (row % 6);
      if (row < 6) {
        by[place] = 1;
        return { value: b[place]!, by };
      }
      by[0] = 1;
      by[1] = b[place]!;
      by[place] = b[1]!;
      return { value: b[0]! + b[1]! * b[place]!, by };
    };
    const { b, squares } = adjustTo(model, points, [0, 2, ...xs], true);
    // Exact minimum, as a general uncertainty library has it; the standard prints 0.5788 and 2.159.
    expectDigits(b, [0.578822122145264, 2.15965656740064], 7);
    expectDigits([squares], [2.74267678973], 7);
  });
});
