import { describe, expect, it } from 'vitest';
import { machineTruth, randomScene } from '../../../samples/index.js';
import type { Stroke } from '../../../shared/stroke.js';

type Ends = readonly [x0: number, y0: number, x1: number, y1: number];

function strokes(list: readonly Ends[]): Stroke[] {
  return list.map(([x0, y0, x1, y1], id) => ({
    id,
    fromMm: [x0, y0],
    toMm: [x1, y1],
    approachX: 1,
    approachY: 1,
    sourceLine: id + 1,
  }));
}

/** X0 but for its upper quarter, four more lines, five across, then the quarter: eleven strokes. */
const MARKED = strokes([
  [0, 0, 0, 150],
  ...[50, 100, 150, 200].map((x): Ends => [x, 0, x, 200]),
  ...[0, 50, 100, 150, 200].map((y): Ends => [0, y, 200, y]),
  [0, 150, 0, 200],
]);

describe('the true drift', () => {
  const drawn = randomScene(1, MARKED).scene.machine;

  it('is the whole creep between the first mark and the last one', () => {
    const truth = machineTruth({ ...drawn, driftXMm: 0.1, driftYMm: 0.2 }, MARKED);
    expect(truth.drift.x).toBeCloseTo(0.1, 12);
  });

  it('is none where no line was marked again', () => {
    expect(machineTruth({ ...drawn, driftYMm: 0.2 }, MARKED).drift).not.toHaveProperty('y');
    expect(machineTruth(drawn, MARKED.slice(0, -1)).drift).toEqual({});
  });

  it('stands beside amplitude and period of the error of a turn', () => {
    const periodic = { amplitudeMm: 0.03, periodMm: 5, phaseRad: 1 };
    const errors = { ...drawn, positionX: { ...drawn.positionX, periodic } };
    expect(machineTruth(errors, MARKED).periodic).toEqual({ x: { amplitude: 0.03, period: 5 } });
  });
});
