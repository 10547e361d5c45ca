import { describe, expect, it } from 'vitest';
import type { Stroke } from '../../../shared/stroke.js';
import { cutStrokes, describeGrid } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

type Ends = readonly [x0: number, y0: number, x1: number, y1: number];

function strokesOf(list: readonly Ends[]): Stroke[] {
  return list.map(([x0, y0, x1, y1], id) => ({
    id,
    fromMm: [x0, y0],
    toMm: [x1, y1],
    approachX: 1,
    approachY: 1,
    sourceLine: id + 1,
  }));
}

/** Five lines each way, 50 mm apart, 200 mm long. */
const OWN = strokesOf(
  [0, 50, 100, 150, 200].flatMap((at): Ends[] => [
    [at, 0, at, 200],
    [0, at, 200, at],
  ]),
);

function segmentsAt(x: number, ...others: readonly Ends[]) {
  const grid = unwrap(describeGrid(OWN));
  const marks = strokesOf(others);
  return cutStrokes(OWN, grid, { others: marks }).segments.filter(
    ({ axis, fromMm }) => axis === 'x' && fromMm[0] === x,
  );
}

/** From, to along the line, in whole hundredths of a millimetre. */
function spansOf(segments: ReturnType<typeof segmentsAt>): number[][] {
  return segments.map(({ fromMm, toMm }) =>
    [fromMm[1], toMm[1]].map((v) => Math.round(100 * v) / 100),
  );
}

describe('marks of another program on the same board', () => {
  it('cut a line where they cross it, with a clearance as at a line of its own program', () => {
    const without = spansOf(segmentsAt(100));
    expect(without).toContainEqual([51.5, 98.5]);
    const cut = segmentsAt(100, [0, 75, 200, 75]);
    const spans = spansOf(cut);
    expect(spans).not.toContainEqual([51.5, 98.5]);
    expect(spans).toContainEqual([51.5, 73.5]);
    expect(spans).toContainEqual([76.5, 98.5]);
    for (const { fromMm, toMm, clearMm = 0 } of cut) {
      expect(fromMm[1] >= 76.5 || toMm[1] <= 73.5).toBe(true);
      expect(clearMm).toBeGreaterThanOrEqual(1.5);
    }
  });

  it('that cross elsewhere leave a line as it is', () => {
    expect(spansOf(segmentsAt(100, [120, 75, 200, 75]))).toEqual(spansOf(segmentsAt(100)));
  });

  it('that run along a line nearer than 4 mm take that part of it away', () => {
    // Askew by 1 in 20: within 4 mm of X100 from Y20 to Y180, on it at Y100.
    for (const [from, to] of spansOf(segmentsAt(100, [95, 0, 105, 200]))) {
      expect(to <= 20 || from >= 180).toBe(true);
    }
  });

  it('that run exactly along a line nearer than that take away what they run beside', () => {
    const spans = spansOf(segmentsAt(100, [102, 60, 102, 80]));
    for (const [from, to] of spans) expect(to! <= 60 || from! >= 80).toBe(true);
    const others = (list: number[][]) => list.filter(([from]) => from! < 50 || from! > 100);
    expect(others(spans)).toEqual(others(spansOf(segmentsAt(100))));
  });

  it('of its own program that run beside a line within the clearance are cut around', () => {
    const grid = unwrap(describeGrid(OWN));
    const tick = strokesOf([[101, 60, 101, 90]]).map((one) => ({ ...one, id: OWN.length }));
    const own = cutStrokes([...OWN, ...tick], grid).segments.filter(
      ({ axis, fromMm }) => axis === 'x' && fromMm[0] === 100,
    );
    expect(own.length).toBeGreaterThan(0);
    for (const [from, to] of spansOf(own)) expect(to! <= 60 || from! >= 90).toBe(true);
  });

  it('that run beside a line farther off are told with their distance at the nearest place', () => {
    // 20 mm off at Y0, 10 mm off at Y200.
    const segments = segmentsAt(100, [80, 0, 90, 200]);
    const last = segments.find(({ fromMm }) => fromMm[1] === 151.5);
    // 3 mm beyond the segment's end at Y198: the mark ends at Y200.
    expect(last?.besideMm).toBeCloseTo(10, 9);
    const first = segments.find(({ toMm }) => toMm[1] === 48.5);
    expect(first?.besideMm).toBeCloseTo(20 - 51.5 / 20, 9);
  });

  it('are nothing that a grid by itself would be told of', () => {
    for (const segment of segmentsAt(100)) {
      expect(segment).not.toHaveProperty('besideMm');
      expect(segment).not.toHaveProperty('clearMm');
    }
  });
});
