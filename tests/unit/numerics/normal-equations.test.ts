import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import {
  invertNormal,
  makeDesignRows,
  NormalEquations,
  quadraticForm,
  sampleNormal,
  solveNormal,
} from '../../../src/numerics/index.js';

/** Straight line through (0, 1), (1, 3), (2, 4), the last with weight 4. */
const PLACES = [0, 1, 2];
const READINGS = [1, 3, 4];
const WEIGHTS = [1, 1, 4];

function lineSystem(): NormalEquations {
  const rows = makeDesignRows(3, 2);
  PLACES.forEach((place, i) => {
    rows.index.set([0, 1], 2 * i);
    rows.value.set([1, place], 2 * i);
    rows.start[i + 1] = 2 * (i + 1);
  });
  const system = new NormalEquations(2);
  PLACES.forEach((_, i) => {
    system.addRow(rows, i, READINGS[i], WEIGHTS[i]);
  });
  system.symmetrise();
  return system;
}

describe('normal equations', () => {
  it('a weighted line comes out as worked by hand', () => {
    // N = [6 9; 9 17], r = [20; 35]; determinant 21: a = 25/21, b = 30/21.
    const system = lineSystem();
    const x = solveNormal(system.matrix, system.rightSide);
    expect(x?.[0]).toBeCloseTo(25 / 21, 12);
    expect(x?.[1]).toBeCloseTo(30 / 21, 12);
    const inverse = invertNormal(system.matrix, 2);
    expect(inverse?.[0]).toBeCloseTo(17 / 21, 12);
    expect(inverse?.[1]).toBeCloseTo(-9 / 21, 12);
    expect(inverse?.[3]).toBeCloseTo(6 / 21, 12);
  });

  it('are those of the whole design, in whatever order and how often a row names its unknowns', () => {
    const named = [
      { index: [2, 0, 2], value: [0.5, -1, 2], reading: 3, weight: 2 },
      { index: [1, 2, 0], value: [1, 4, 0.25], reading: -1, weight: 0.5 },
      { index: [1, 1], value: [3, 1], reading: 2, weight: 1 },
    ];
    const rows = makeDesignRows(3, 3);
    let filled = 0;
    named.forEach(({ index, value }, i) => {
      rows.index.set(index, filled);
      rows.value.set(value, filled);
      filled += index.length;
      rows.start[i + 1] = filled;
    });
    const system = new NormalEquations(3);
    named.forEach(({ reading, weight }, i) => {
      system.addRow(rows, i, reading, weight);
    });
    system.addPrior(1, -0.5, 8);
    system.symmetrise();
    const design = Matrix.zeros(4, 3);
    named.forEach(({ index, value }, i) => {
      index.forEach((k, j) => {
        design.set(i, k, design.get(i, k) + value[j]!);
      });
    });
    design.set(3, 1, 1);
    const weight = Matrix.diag([...named.map((one) => one.weight), 8]);
    const readings = Matrix.columnVector([...named.map((one) => one.reading), -0.5]);
    const turned = design.transpose().mmul(weight);
    turned
      .mmul(design)
      .to1DArray()
      .forEach((value, i) => {
        expect(system.matrix[i]).toBeCloseTo(value, 12);
      });
    turned
      .mmul(readings)
      .to1DArray()
      .forEach((value, i) => {
        expect(system.rightSide[i]).toBeCloseTo(value, 12);
      });
  });

  it('damping is added to the diagonal as a share of it, in whatever units', () => {
    // [4 1; 1 9] with half of the diagonal more: [6 1; 1 13.5], determinant 80.
    const x = solveNormal(Float64Array.from([4, 1, 1, 9]), Float64Array.from([80, 160]), 0.5);
    expect(x?.[0]).toBeCloseTo(13.5 - 2, 12);
    expect(x?.[1]).toBeCloseTo(-1 + 12, 12);
  });

  it('a singular system gives no solution', () => {
    expect(solveNormal(Float64Array.from([1, 1, 1, 1]), Float64Array.from([1, 1]))).toBeUndefined();
    expect(invertNormal(Float64Array.from([1, 1, 1, 1]), 2)).toBeUndefined();
  });

  it('units of the unknowns do not matter: a system scaled over 16 decades is solved as well', () => {
    const system = lineSystem();
    const scale = [1e8, 1e-8];
    const matrix = system.matrix.map((v, k) => v * scale[k >> 1] * scale[k & 1]);
    const right = system.rightSide.map((v, i) => v * scale[i]);
    const x = solveNormal(matrix, right);
    expect((x?.[0] ?? 0) * scale[0]).toBeCloseTo(25 / 21, 10);
    expect((x?.[1] ?? 0) * scale[1]).toBeCloseTo(30 / 21, 10);
  });

  it('an eliminated unknown leaves the same solution as one that is carried along', () => {
    // Three unknowns, the last eliminated: the whole system is solved by a general library.
    const whole = [
      [7, 2, 1],
      [2, 9, 3],
      [1, 3, 5],
    ];
    const right = [4, -1, 2];
    const all = solve(new Matrix(whole), Matrix.columnVector(right)).to1DArray();
    const system = new NormalEquations(2);
    // Each pair of unknowns is given once.
    system.matrix.set([7, 0, 2, 9]);
    system.rightSide.set([4, -1]);
    system.eliminate(Float64Array.from([1, 3]), Int32Array.from([0, 1]), 2, 5, 2);
    system.symmetrise();
    const x = solveNormal(system.matrix, system.rightSide);
    expect(x?.[0]).toBeCloseTo(all[0], 12);
    expect(x?.[1]).toBeCloseTo(all[1], 12);
  });

  it('a direction that only a belief fixes keeps the uncertainty of that belief among many strong rows', () => {
    // Two unknowns that are only ever seen as 0.7 x + 0.3 y: whatever the rows, x stays as it was believed, u = 1/20.
    const count = 20_000;
    const weight = 1e13 / count;
    const rows = makeDesignRows(count, 2);
    const system = new NormalEquations(2);
    let seed = 1;
    for (let k = 0; k < count; k++) {
      seed = (seed * 16_807) % 2_147_483_647;
      const size = 0.5 + seed / 2_147_483_647;
      rows.index.set([0, 1], 2 * k);
      rows.value.set([0.7 * size, 0.3 * size], 2 * k);
      rows.start[++rows.count] = 2 * rows.count;
      system.addRow(rows, k, 0, weight);
      if (k % 200 === 199) system.settle();
    }
    system.addPrior(0, 0, 400);
    system.symmetrise();
    const [variance] = invertNormal(system.matrix, 2)!;
    expect(20 * Math.sqrt(variance!)).toBeCloseTo(1, 5);
  });

  it('variance of a sum is the sum of all covariances', () => {
    expect(quadraticForm(Float64Array.from([4, -1, -1, 9]), Float64Array.from([1, 1]))).toBeCloseTo(
      11,
      12,
    );
  });
});

describe('normal draws', () => {
  const covariance = [
    [4, 1.2],
    [1.2, 1],
  ];

  it('have the asked mean and covariance', () => {
    const count = 20_000;
    const draws = sampleNormal([10, -3], covariance, count) ?? [];
    const mean = [0, 1].map((k) => draws.reduce((sum, d) => sum + d[k], 0) / count);
    const moment = (i: number, j: number) =>
      draws.reduce((sum, d) => sum + (d[i] - mean[i]) * (d[j] - mean[j]), 0) / count;
    // Standard errors are 0.014 and 0.04 for n = 20 000; the bounds are four of them.
    expect(Math.abs(mean[0] - 10)).toBeLessThan(0.057);
    expect(Math.abs(mean[1] + 3)).toBeLessThan(0.03);
    expect(Math.abs(moment(0, 0) - 4)).toBeLessThan(0.16);
    expect(Math.abs(moment(0, 1) - 1.2)).toBeLessThan(0.07);
    expect(Math.abs(moment(1, 1) - 1)).toBeLessThan(0.04);
  });

  it('are of one value each for one unknown, and of none for none', () => {
    const draws = sampleNormal([5], [[4]], 3)!;
    expect(draws.map((one) => one.length)).toEqual([1, 1, 1]);
    expect(new Set(draws.flat()).size).toBe(3);
    expect(sampleNormal([], [], 2)).toEqual([[], []]);
  });

  it('are refused for a covariance that is none', () => {
    expect(
      sampleNormal(
        [0, 0],
        [
          [1, 2],
          [2, 1],
        ],
        5,
      ),
    ).toBeUndefined();
  });

  it('are the same on every call', () => {
    expect(sampleNormal([0, 0], covariance, 5)).toEqual(sampleNormal([0, 0], covariance, 5));
  });
});
