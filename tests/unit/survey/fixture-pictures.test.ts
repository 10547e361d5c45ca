import { describe, expect, it } from 'vitest';
import type { FixtureFeatureRecord } from '../../../shared/schemas/fixture.js';
import type { Layout, LayoutFeature, MeasuredPlace } from '../../../src/fixture/index.js';
import { fixtureOverlay } from '../../../src/survey/fixture-pictures.js';

const [WIDTH, HEIGHT] = [1000, 900];
/** Two pixels a millimetre, Y upwards; what stands higher is seen shifted to the left. */
const view = {
  image: { width: WIDTH, height: HEIGHT, data: new Uint8Array(0) },
  imageAt: (x: number, y: number, height: number) => [100 + 2 * x - height, 800 - 2 * y] as const,
};
const base = { heightMm: 0, heightUMm: 0, isHeightKnown: true, scatterMm: 0.02 };
const features: LayoutFeature[] = [
  { ...base, name: 'A', kind: 'pin', atMm: [100, 50], diameterMm: 10 },
  { ...base, name: 'fence', kind: 'edge', fromMm: [50, 200], toMm: [250, 200] },
  { ...base, name: 'far', kind: 'hole', atMm: [900, 50], diameterMm: 10 },
  {
    ...base,
    name: 'corner',
    kind: 'corner',
    atMm: [20, 20],
    edgesRad: [0, Math.PI / 2],
    armMm: 30,
  },
];
const layout: Layout = { clearanceMm: 0, searchMm: 3, features };
const at = (x: number, y: number) => ({ x, y, ux: 0.01, uy: 0.01 });
const left = (dx: number, dy: number, verdict: 'outside' | 'inside') => ({
  deviation: {
    value: 2 * Math.hypot(dx, dy),
    unit: 'mm' as const,
    u: 0.01,
    k: 2 as const,
    U: 0.02,
  },
  dx,
  dy,
  verdict,
});
const records: FixtureFeatureRecord[] = [
  {
    name: 'A',
    kind: 'pin',
    nominal: { x: 100, y: 50 },
    state: 'found',
    photos: ['a.jpg'],
    height: { value: 6, u: 0, known: true },
    machine: at(103, 51),
    asUsed: left(2, -1, 'outside'),
  },
  {
    name: 'fence',
    kind: 'edge',
    nominal: { x: 150, y: 200 },
    state: 'found',
    photos: ['b.jpg'],
    machine: at(150, 202),
    asUsed: left(0, 1, 'inside'),
  },
  { name: 'far', kind: 'hole', nominal: { x: 900, y: 50 }, state: 'found', machine: at(900, 50) },
  { name: 'corner', kind: 'corner', nominal: { x: 20, y: 20 }, state: 'not found' },
];
const place = (feature: number, values: readonly [number, number]): MeasuredPlace => ({
  feature,
  values,
  covariance: [1e-4, 0, 1e-4],
});
const overlay = fixtureOverlay({ name: 'a.jpg', view, corners: [] }, layout, records, [
  place(0, [103, 51]),
  place(1, [1, 3]),
  place(2, [900, 50]),
]);
const named = (name: string) => overlay.features.find((one) => one.name === name)!;
const middle = (points: readonly (readonly [number, number])[]) =>
  ([0, 1] as const).map(
    // The last point of a ring is its first.
    (k) => points.slice(1).reduce((sum, point) => sum + point[k], 0) / (points.length - 1),
  );

describe('what the picture of a fixture shows', () => {
  it('is each rim at its own height, where the layout has it and where it was found', () => {
    const { nominal, found } = named('A');
    // (100 + 2 · 100 − 6, 800 − 2 · 50); found 3 and 1 mm farther.
    expect(middle(nominal)[0]).toBeCloseTo(294, 9);
    expect(middle(nominal)[1]).toBeCloseTo(700, 9);
    expect(middle(found!)[0]).toBeCloseTo(300, 9);
    expect(middle(found!)[1]).toBeCloseTo(698, 9);
    for (const [u, v] of nominal) expect(Math.hypot(u - 294, v - 700)).toBeCloseTo(10, 9);
  });

  it('begins the bar where the feature ought to be after offset and turn', () => {
    const { left: bar } = named('A');
    // Found at (103, 51), 2 and −1 mm from there.
    expect(bar!.from[0]).toBeCloseTo(100 + 2 * 101 - 6, 9);
    expect(bar!.from[1]).toBeCloseTo(800 - 2 * 52, 9);
    expect(bar!.byPx[0]).toBeCloseTo(4, 6);
    expect(bar!.byPx[1]).toBeCloseTo(2, 6);
  });

  it('moves the ends of an edge across it, each by its own', () => {
    const { nominal, found, isSeen } = named('fence');
    expect(nominal).toEqual([
      [200, 400],
      [600, 400],
    ]);
    expect(found).toEqual([
      [200, 398],
      [600, 394],
    ]);
    expect(isSeen).toBe(false);
  });

  it('has both arms of a corner, and nothing found where nothing was', () => {
    const { nominal, found, left: bar } = named('corner');
    expect(nominal.map(([u, v]) => [Math.round(u), Math.round(v)])).toEqual([
      [200, 760],
      [140, 760],
      [140, 700],
    ]);
    expect(found).toBeUndefined();
    expect(bar).toBeUndefined();
  });

  it('leaves out what lies outside the picture, and keeps the numbers of the layout', () => {
    expect(overlay.features.map(({ number }) => number)).toEqual([1, 2, 4]);
    expect(overlay.features.map(({ verdict }) => verdict)).toEqual([
      'outside',
      'inside',
      undefined,
    ]);
  });
});
