/** Every figure of the report is read back from its drawing and held against the measurement. */
import { describe, expect, it } from 'vitest';
import type { CurvePoint } from '../../../shared/schemas/measurement.js';
import { reportHtml } from '../../../src/report/index.js';
import { DRIFT_DAYS, fullDrift, fullMeasurement } from '../../browser/full-measurement.js';
import { readChart, readRows } from './read-chart.js';

const measurement = fullMeasurement('Full router');
const html = reportHtml(measurement, [], 'mm', { drift: fullDrift('Full router') });

const chart = (title: string) => readChart(html, title);
const rows = (title: string) => readRows(html, title);

/** A tenth of a drawing unit is what is written, both for marks and for the scale's own numbers. */
const near = (own: number, expected: number, span: number) =>
  expect(Math.abs(own - expected)).toBeLessThan(span / 700);

describe('the figures of the report', () => {
  it.each(['x', 'y'] as const)('show each deviation of %s at its place, with its band', (axis) => {
    const { text, x, y } = chart(`Deviation of ${axis.toUpperCase()}`);
    const discs = [...text.matchAll(/<circle cx="([\d.]+)" cy="([\d.]+)"/g)];
    const own = measurement.deviations
      .filter((one) => one.axis === axis && one.forward !== undefined)
      .sort((a, b) => a.commanded - b.commanded);
    expect(discs).toHaveLength(own.length);
    const span = 1.2;
    own.forEach(({ commanded, forward }, k) => {
      near(x(Number(discs[k]![1])), commanded, 720);
      near(y(Number(discs[k]![2])), forward!, span);
    });
    const band = /class="forward"><path class="band" d="M([\d.]+),([\d.]+)/.exec(text)!;
    near(y(Number(band[2])), own[0]!.forward! + 2 * own[0]!.u, span);
  });

  it('show squares for the reverse approach', () => {
    const { text, y } = chart('Deviation of Y');
    const squares = [...text.matchAll(/<rect x="([\d.]+)" y="([\d.]+)" width="6"/g)];
    const own = measurement.deviations.filter(({ axis }) => axis === 'y');
    for (const [k, { reverse }] of own.entries())
      near(y(Number(squares[k]![2]) + 3), reverse!, 0.3);
  });

  it.each([
    ['Straightness of X', measurement.straightnessCurve!.x, 1],
    ['Straightness of Y', measurement.straightnessCurve!.y, 1],
    ['Racking: yaw of the gantry', measurement.racking.curve!, 1000],
  ] as readonly [string, readonly CurvePoint[], number][])(
    'draw %s as it was measured',
    (title, curve, factor) => {
      const { text, x, y } = chart(title);
      const path = /class="line" d="M([^"]+)"/.exec(text)![1]!;
      const points = path.split('L').map((pair) => pair.split(',').map(Number));
      const size = Math.max(...curve.map(({ value, u }) => Math.abs(value) + 2 * u)) * factor * 2.5;
      expect(points).toHaveLength(curve.length);
      curve.forEach(({ at, value }, k) => {
        near(x(points[k]![0]!), at, 720);
        near(y(points[k]![1]!), value * factor, size);
      });
    },
  );

  it('draw the corner of the true grid where squareness, scales, bends and yaw put it', () => {
    const { text, x, y } = chart('True grid');
    const factor = Number(/errors × ([\d.]+)/.exec(text)![1]);
    const tips = [...text.matchAll(/<circle cx="([\d.]+)" cy="([\d.]+)" r="2"/g)];
    expect(tips).toHaveLength(13 * 9);
    // The +X +Y corner, by hand: the middle of the grid, X360 Y240, stays.
    const last = tips[tips.length - 1]!;
    const of = (axis: 'x' | 'y') =>
      measurement.deviations.filter((one) => one.axis === axis && one.rung !== true);
    const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
    const middles = (axis: 'x' | 'y') =>
      of(axis).map(({ forward, reverse }) => (forward! + reverse!) / 2);
    const end = <T>(values: readonly T[]) => values[values.length - 1]!;
    const dx =
      end(middles('x')) -
      mean(middles('x')) +
      0.85e-3 * 240 +
      end(measurement.straightnessCurve!.y).value;
    const dy =
      end(middles('y')) -
      mean(middles('y')) +
      end(measurement.straightnessCurve!.x).value +
      360 * end(measurement.racking.curve!).value;
    near(x(Number(last[1])), 720 + factor * dx, 790);
    near(y(Number(last[2])), 480 + factor * dy, 600);
  });

  it('draw the histogram’s bars as high as their counts', () => {
    const { text, y } = chart('Residuals of');
    const bars = [
      ...text.matchAll(/<rect x="[\d.]+" width="[\d.]+" y="([\d.]+)" height="([\d.]+)"/g),
    ];
    const { counts } = measurement.photos[0]!.residuals!;
    expect(bars).toHaveLength(counts.length);
    for (const [k, count] of counts.entries()) near(y(Number(bars[k]![1])), count, 140);
  });

  it('draw the map’s arrows in the ratio of the means', () => {
    const { text } = chart('Mean residuals');
    const arrows = [
      ...text.matchAll(/<line x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"\/><circle/g),
    ].map(([, ...ends]) => ends.map(Number) as [number, number, number, number]);
    const { u, v } = measurement.photos[0]!.residuals!.map;
    const shown = u
      .map((du, k) => [du, v[k]!] as const)
      .filter(([du, dv]) => du !== null || dv !== null);
    expect(arrows).toHaveLength(shown.length);
    const largest = Math.max(...shown.map(([du, dv]) => Math.hypot(du ?? 0, dv ?? 0)));
    const longest = Math.max(...arrows.map(([x1, y1, x2, y2]) => Math.hypot(x2 - x1, y2 - y1)));
    shown.forEach(([du, dv], k) => {
      const [x1, y1, x2, y2] = arrows[k]!;
      expect(Math.abs((x2 - x1) / longest - (du ?? 0) / largest)).toBeLessThan(0.01);
      // Rows count downwards, as the drawing does.
      expect(Math.abs((y2 - y1) / longest - (dv ?? 0) / largest)).toBeLessThan(0.01);
    });
  });
});

describe('the years of a machine', () => {
  it('show each value at its height with ± U, the limits and the trend', () => {
    const { text, y } = chart('squareness: DRIFTS');
    const discs = [...text.matchAll(/<circle cx="([\d.]+)" cy="([\d.]+)" r="3"/g)];
    expect(discs).toHaveLength(DRIFT_DAYS.length);
    for (const [i, disc] of discs.entries()) near(y(Number(disc[2])), 0.1 + 0.03 * i, 0.6);
    // Dates go from the left edge to the right one.
    const [left, right] = [Number(discs[0]![1]), Number(discs[4]![1])];
    for (const [i, disc] of discs.entries()) {
      const share = (DRIFT_DAYS[i]! - 20000) / 120;
      expect(Math.abs(Number(disc[1]) - left - share * (right - left))).toBeLessThan(0.2);
    }
    const level = (name: string) =>
      [...text.matchAll(new RegExp(`<line class="${name}"[^>]* y1="([\\d.]+)"`, 'g'))].map(
        ([, at]) => y(Number(at)),
      );
    for (const [i, value] of [-0.2, 0.2].entries()) near(level('limit')[i]!, value, 0.6);
    for (const [i, value] of [0.08, 0.24].entries()) near(level('control')[i]!, value, 0.6);
    const bar = /class="reach"[^>]*y1="([\d.]+)" y2="([\d.]+)"/.exec(text)!;
    near(y(Number(bar[2])) - y(Number(bar[1])), 0.08, 0.6);
  });
});

describe('the tables of the report', () => {
  it('hold the shares of the variance, and bars of the same widths', () => {
    const [, first] = rows('Where the uncertainty comes from');
    expect(first!.slice(0, 5)).toEqual(['squareness', '60 %', '25 %', '10 %', '5 %']);
    const bars = /<svg class="share".*?<\/svg>/s.exec(html)![0];
    const widths = [...bars.matchAll(/width="([\d.]+)"/g)].map(([, width]) => Number(width));
    // Nothing crept: no share of anything else.
    expect(widths).toEqual([60, 25, 10, 5, 0]);
  });

  it('hold the positioning figures that the deviations give', () => {
    const table = rows('Positioning by ISO 230-2');
    const own = measurement.deviations.filter(({ axis, rung }) => axis === 'y' && rung !== true);
    const all = own.flatMap(({ forward, reverse }) => [forward!, reverse!]);
    const E = Math.max(...all) - Math.min(...all);
    expect(table[2]![0]).toBe('Y');
    expect(table[2]![1]).toBe('0.140 mm');
    expect(table[2]![2]).toBe('−0.140 mm');
    expect(Number.parseFloat(table[2]![3]!)).toBeCloseTo(E, 3);
  });

  it('hold every deviation with its U', () => {
    const table = rows('Deviations, table');
    expect(table).toHaveLength(measurement.deviations.length + 1);
    // U = 2 × 0.0052 mm at X120: two digits.
    const at120 = table.find(([, axis, commanded]) => axis === 'X' && commanded?.startsWith('120'));
    const { forward } = measurement.deviations.find(
      (one) => one.axis === 'x' && one.commanded === 120,
    )!;
    expect(at120![3]).toBe(`${forward!.toFixed(3)} ± 0.010 mm`);
  });
});
