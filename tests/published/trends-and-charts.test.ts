import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import { ewmaChart, individualsChart } from '../../src/drift/control-charts.js';
import { mannKendall } from '../../src/drift/mann-kendall.js';
import { runsSignals } from '../../src/drift/runs-rules.js';
import { theilSen } from '../../src/drift/theil-sen.js';
import { weightedLine } from '../../src/drift/weighted-line.js';

/** NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: 20 values of a process at 50. */
const EWMA_DATA = [
  52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
  52.6, 52.4, 53.6, 52.1,
];
/** The same, 6.3.2.2: flow rates of ten batches. */
const FLOW_RATES = EWMA_DATA.slice(10);
/** The same, 6.3.2.3. */
const CUSUM_DATA = [
  324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625,
  325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
];
/** Montgomery and Runger, Applied Statistics and Probability for Engineers: concentrations. */
const CONCENTRATIONS = [
  102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0,
  96.7, 100.3, 101.4, 97.2, 101.0,
];
/** Makridakis, Wheelwright and Hyndman, Forecasting (1998): sales of shampoo in 36 months. */
const SHAMPOO = [
  266.0, 145.9, 183.1, 119.3, 180.3, 168.5, 231.8, 224.5, 192.8, 122.9, 336.5, 185.9, 194.3, 149.5,
  210.1, 273.3, 191.4, 287.0, 226.0, 303.6, 289.9, 421.6, 264.5, 342.3, 339.7, 440.4, 315.9, 439.3,
  401.3, 437.4, 575.5, 407.6, 682.0, 475.3, 581.3, 646.9,
];

const months = (values: readonly number[]) => values.map((_, i) => i);

describe('the individuals chart of the e-Handbook, 6.3.2.2', () => {
  const chart = individualsChart(FLOW_RATES);

  it('has the published centre and limits', () => {
    expect(chart.centre).toBeCloseTo(50.81, 10);
    expect(chart.meanMovingRange).toBeCloseTo(1.8778, 4);
    // The handbook divides by 1.128 instead of 2/√π = 1.12838: 0.03 % of the width.
    const rounding = 5 * (1.12838 / 1.128 - 1) + 5e-5;
    expect(Math.abs(chart.upper - 55.8041)).toBeLessThan(rounding);
    expect(Math.abs(chart.lower - 45.8159)).toBeLessThan(rounding);
  });

  it('has the usual limit of the moving range: 3.267 times its mean', () => {
    expect(chart.upperMovingRange).toBeCloseTo(3.267 * 1.8778, 2);
  });

  it('shows nothing out of control', () => {
    const signals = runsSignals(FLOW_RATES.map((x) => (x - chart.centre) / chart.sigma));
    expect(signals).toEqual([]);
  });
});

describe('the individuals chart of concentrations (Montgomery and Runger)', () => {
  it('has the published mean and range, and limits 2.66 ranges away', () => {
    const chart = individualsChart(CONCENTRATIONS);
    expect(chart.centre).toBeCloseTo(99.095, 6);
    expect(chart.meanMovingRange).toBeCloseTo(2.589474, 6);
    // 3/1.128 of the book against 3√π/2: 2.6596 and 2.6587.
    expect(Math.abs(chart.upper - 105.982)).toBeLessThan(0.004);
    expect(Math.abs(chart.lower - 92.208)).toBeLessThan(0.004);
  });
});

describe('the moving average of the e-Handbook, 6.3.2.4', () => {
  const design = { weight: 0.3, centre: 50, sigma: 2.0539, sigmas: 3 };
  const points = ewmaChart(EWMA_DATA, design);

  it('runs as published', () => {
    const published = [
      50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
      50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    expect(points.map(({ average }) => Number(average.toFixed(2)))).toEqual(published);
  });

  it('comes to the published limits, and stays within', () => {
    // The handbook cuts off digits: 52.5884 and 47.4115.
    expect(50 + points.at(-1)!.reach).toBeCloseTo(52.5884, 3);
    expect(50 - points.at(-1)!.reach).toBeCloseTo(47.4115, 3);
    expect(points.every(({ average, reach }) => Math.abs(average - 50) < reach)).toBe(true);
  });

  it('begins with narrower limits: λ σ k after the first value', () => {
    expect(points[0]!.reach).toBeCloseTo(0.3 * 2.0539 * 3, 10);
  });
});

describe('the test of Mann and Kendall', () => {
  it('gives the published S, tau, Z and p of the shampoo sales', () => {
    // pyMannKendall's example (Hussain and Mahmud 2019): S 440, tau 0.6984; unmodified test: variance 5390.
    const { S, tau, varianceOfS, Z } = mannKendall(SHAMPOO);
    expect(S).toBe(440);
    expect(tau).toBeCloseTo(0.6984126984, 10);
    expect(varianceOfS).toBe(5390);
    expect(Z).toBeCloseTo(5.979572524, 8);
  });

  it('takes ties into account: the variances of three NIST sets', () => {
    expect(mannKendall(FLOW_RATES)).toMatchObject({ S: 27, varianceOfS: 125, tau: 0.6 });
    expect(mannKendall(EWMA_DATA)).toMatchObject({ S: 55, varianceOfS: 947 });
    expect(mannKendall(EWMA_DATA).p).toBeCloseTo(0.0792996, 6);
    expect(mannKendall(CUSUM_DATA)).toMatchObject({ S: 93, varianceOfS: 949 });
    expect(mannKendall(CUSUM_DATA).p).toBeCloseTo(0.0028224, 6);
  });

  it('has the exact probabilities of Kendall’s table for few values', () => {
    // Kendall, Rank correlation methods, table 1: P(S ≥ 10 | n = 5) = 0.0083, P(S ≥ 21 | n = 7) = 0.00020,
    // P(S ≥ 27 | n = 10) = 0.0083, one-sided.
    expect(mannKendall([1, 2, 3, 4, 5]).p / 2).toBeCloseTo(0.0083, 4);
    expect(mannKendall([7, 6, 5, 4, 3, 2, 1]).p / 2).toBeCloseTo(0.0002, 5);
    expect(mannKendall(FLOW_RATES).p / 2).toBeCloseTo(0.0083, 4);
  });
});

describe('the slope of Theil and Sen', () => {
  it('is the published one for the shampoo sales, with its interval', () => {
    // Slope and intercept: pyMannKendall's example; interval: scipy.stats.theilslopes.
    const { slope, intercept, interval } = theilSen(months(SHAMPOO), SHAMPOO)!;
    expect(slope).toBeCloseTo(11.509375, 10);
    expect(intercept).toBeCloseTo(78.7359375, 10);
    expect(interval[0]).toBeCloseTo(8.625, 10);
    expect(interval[1]).toBeCloseTo(14.41333, 5);
  });

  it('is that of scipy.stats.theilslopes for the NIST sets', () => {
    const flow = theilSen(months(FLOW_RATES), FLOW_RATES)!;
    expect([flow.slope, flow.intercept, ...flow.interval].map((x) => x.toFixed(6))).toEqual([
      '0.500000',
      '49.000000',
      '0.150000',
      '0.860000',
    ]);
    const ewma = theilSen(months(EWMA_DATA), EWMA_DATA)!;
    expect(ewma.slope).toBeCloseTo(0.135417, 6);
    expect(ewma.interval[0]).toBeCloseTo(-0.028571, 6);
    expect(ewma.interval[1]).toBeCloseTo(0.286667, 6);
    expect(theilSen(months(CUSUM_DATA), CUSUM_DATA)!.slope).toBeCloseTo(0.190144, 6);
  });

  it('agrees with another library on uneven times with a wild value', () => {
    const { TheilSenRegression } = createRequire(import.meta.url)('ml-regression') as {
      TheilSenRegression: new (
        x: readonly number[],
        y: readonly number[],
      ) => { readonly slope: number };
    };
    // 21 pairs: of an even number the other one takes a middle value, not the mean of both.
    const times = [0, 3, 4, 9, 15, 16.5, 30];
    const values = [1, 1.4, 0.9, 2.2, 99, 3, 5.1];
    const { slope } = new TheilSenRegression(times, values);
    expect(theilSen(times, values)!.slope).toBeCloseTo(slope, 12);
    expect(slope).toBeLessThan(0.3);
  });
});

describe('the weighted line of ISO/TS 28037:2010', () => {
  const x = [1, 2, 3, 4, 5, 6];
  const cases = [
    {
      name: 'equal weights (table 6)',
      y: [3.3, 5.6, 7.1, 9.3, 10.7, 12.1],
      u: [0.5, 0.5, 0.5, 0.5, 0.5, 0.5],
      a: [1.86666666666667, 0.465474668125631],
      b: [1.75714285714286, 0.119522860933439],
      chiSquared: 1.66476190476,
    },
    {
      name: 'unequal weights (table 10)',
      y: [3.2, 4.3, 7.6, 8.6, 11.7, 12.8],
      u: [0.5, 0.5, 0.5, 1, 1, 1],
      a: [0.885232067510549, 0.529708143508836],
      b: [2.05696202531646, 0.177892016741205],
      chiSquared: 4.13080168776,
    },
  ];
  for (const { name, y, u, a, b, chiSquared } of cases) {
    it(`is the published one: ${name}`, () => {
      const line = weightedLine(x, y, u)!;
      expect(line.slope).toBeCloseTo(b[0]!, 12);
      expect(line.uSlope).toBeCloseTo(b[1]!, 12);
      expect(line.level - line.slope * line.centre).toBeCloseTo(a[0]!, 12);
      expect(Math.hypot(line.uLevel, line.uSlope * line.centre)).toBeCloseTo(a[1]!, 12);
      expect(line.chiSquared).toBeCloseTo(chiSquared, 9);
      expect(line.degrees).toBe(4);
    });
  }

  it('has uncertainties from the scatter where the stated ones have an unknown scale (clause 10, example)', () => {
    const y = [3.014, 5.225, 7.004, 9.061, 11.201, 12.762];
    const line = weightedLine(x, y, [1, 1, 1, 1, 1, 1])!;
    expect(line.birge * line.uSlope).toBeCloseTo(0.0407953578791729, 12);
  });
});
