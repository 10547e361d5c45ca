import { describe, expect, it } from 'vitest';
import type { Stroke } from '../../../shared/stroke.js';
import { cutStrokes, describeGrid } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

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

/** Five lines each way, 50 mm apart, 200 mm long. */
const LINES: readonly Ends[] = [0, 50, 100, 150, 200].flatMap((at): Ends[] => [
  [at, 0, at, 200],
  [0, at, 200, at],
]);
/** A row of strokes across X from Y60 to Y90. */
const row = (...places: readonly number[]): Ends[] => places.map((x) => [x, 60, x, 90]);

describe('rungs', () => {
  const rungsOf = (more: readonly Ends[]) =>
    unwrap(describeGrid(strokes([...LINES, ...more]))).rungsAtX.map((rung) => rung.positionMm);

  it('are five or more equal strokes in a row between the lines, in any order', () => {
    expect(rungsOf(row(135, 12, 62, 85, 112))).toEqual([12, 62, 85, 112, 135]);
  });

  it('are no four of them: they may be ticks of a label', () => {
    expect(rungsOf(row(12, 62, 85, 112))).toEqual([]);
  });

  it('are no strokes shorter than 6 mm', () => {
    expect(rungsOf([12, 62, 85, 112, 135].map((x): Ends => [x, 60, x, 65]))).toEqual([]);
  });

  it('are no scale with a graduation every millimetre', () => {
    expect(rungsOf(row(60, 61, 62, 63, 64, 65))).toEqual([]);
  });

  it('lie nowhere within 4 mm of a line', () => {
    expect(rungsOf(row(12, 53, 62, 85, 112, 135))).toEqual([12, 62, 85, 112, 135]);
  });

  it('are of one extent where rounding of inches sets them apart by a hair', () => {
    const hair = (i: number) => (i % 2 === 0 ? 1e-7 : -1e-7);
    const uneven = [12, 62, 85, 112, 135].map(
      (x, i): Ends => [x, 60.005 + hair(i), x, 90.005 - hair(i)],
    );
    expect(rungsOf(uneven)).toEqual([12, 62, 85, 112, 135]);
  });

  it('are measured over their length less 2 mm at each end, numbered behind the lines', () => {
    const all = strokes([...LINES, ...row(12, 62, 85, 112, 135)]);
    const { segments } = cutStrokes(all, unwrap(describeGrid(all)));
    const rungs = segments.filter(({ isRung }) => isRung);
    expect(rungs.map(({ lineIndex }) => lineIndex)).toEqual([5, 6, 7, 8, 9]);
    expect([rungs[0]!.fromMm, rungs[0]!.toMm]).toEqual([
      [12, 62],
      [12, 88],
    ]);
  });
});

describe('marks made again', () => {
  const repeatedOf = (list: readonly Ends[]) => unwrap(describeGrid(strokes(list))).repeated;
  /** The first line at constant X in two parts, one of them last. */
  const late: readonly Ends[] = [[0, 0, 0, 100], ...LINES.slice(1), [0, 100, 0, 200]];

  it('are parts of a line behind at least half of the other lines of its direction', () => {
    expect(repeatedOf(late)).toEqual({ x: [10], y: [] });
  });

  it('are no halves that are marked one after the other', () => {
    expect(repeatedOf([[0, 0, 0, 100], [0, 100, 0, 200], ...LINES.slice(1)])).toEqual({
      x: [],
      y: [],
    });
  });

  describe('where all first halves are marked before all second halves', () => {
    const half = (from: number, approachX: 1 | -1) =>
      strokes([0, 50, 100, 150, 200].map((x): Ends => [x, from, x, from + 100])).map((stroke) => ({
        ...stroke,
        approachX,
      }));
    const across = strokes([0, 50, 100, 150, 200].map((y): Ends => [0, y, 200, y]));
    const inOrder = (...parts: Stroke[][]) => parts.flat().map((stroke, id) => ({ ...stroke, id }));
    const again = strokes([[0, 110, 0, 130]]);

    it('halves of the other approach repeat nothing', () => {
      const all = inOrder(half(0, 1), half(100, -1), across);
      expect(unwrap(describeGrid(all)).repeated).toEqual({ x: [], y: [] });
    });

    it('a late piece of the first approach does', () => {
      const all = inOrder(half(0, 1), half(100, -1), across, again);
      expect(unwrap(describeGrid(all)).repeated).toEqual({ x: [15], y: [] });
    });
  });

  it('are told by the order alone: with the late part first there are none', () => {
    expect(repeatedOf([late.at(-1)!, ...late.slice(0, -1)])).toEqual({ x: [], y: [] });
  });
});
