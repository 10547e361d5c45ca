import { describe, expect, it } from 'vitest';
import { fitOffsetSurface } from '../../../src/marks/smooth-offsets.js';
import type { BoardSegment } from '../../../src/program/index.js';

function sample(
  xMm: number,
  yMm: number,
  offsetPx: number,
  kind: Partial<Pick<BoardSegment, 'isRung' | 'isRepeated'>> = {},
) {
  const segment: BoardSegment = {
    id: 0,
    strokeId: 0,
    axis: 'x',
    lineIndex: 0,
    isRung: false,
    isRepeated: false,
    fromMm: [xMm, yMm - 10],
    toMm: [xMm, yMm + 10],
    approach: 1,
    ...kind,
  };
  return { segment, xMm, yMm, offsetPx };
}

/** A plane over 400 × 400 mm, as every map leaves it. */
const plane = (x: number, y: number) => 0.3 + 0.001 * x - 0.002 * y;
const LINES = Array.from({ length: 81 }, (_, i) => {
  const [x, y] = [50 * (i % 9), 50 * Math.floor(i / 9)];
  return sample(x, y, plane(x, y));
});
const again = (shift: number) =>
  [25, 125, 225].map((y) => sample(0, y, plane(0, y) + shift, { isRepeated: true }));
const rungs = (shift: number) =>
  [62, 85, 112, 135].map((x) => sample(x, 125, plane(x, 125) + shift, { isRung: true }));

describe('offsets of marks that were made at another time', () => {
  const surface = fitOffsetSurface([...LINES, ...again(1.6), ...rungs(-0.9)])!;
  const at = (kind: Parameters<typeof sample>[3]) => {
    const { segment, xMm, yMm } = sample(120, 125, 0, kind);
    return surface.predicted(segment, xMm, yMm) - plane(120, 125);
  };

  it('do not bend the surface of the lines', () => {
    expect(at({})).toBeCloseTo(0, 1);
  });

  it('are foretold with the shift that all of them share', () => {
    expect(at({ isRepeated: true })).toBeCloseTo(1.6, 1);
    expect(at({ isRung: true })).toBeCloseTo(-0.9, 1);
  });

  it('of one or two marks share none: they may be stains', () => {
    const few = fitOffsetSurface([...LINES, ...again(1.6).slice(1)])!;
    const { segment } = sample(120, 125, 0, { isRepeated: true });
    expect(few.predicted(segment, 120, 125) - plane(120, 125)).toBeCloseTo(0, 1);
  });
});
