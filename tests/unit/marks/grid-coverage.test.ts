import { describe, expect, it } from 'vitest';
import { displayFrame } from '../../../src/imaging/index.js';
import { gridCoverage, type ImageMap } from '../../../src/marks/index.js';
import { describeGrid } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { evenly, gridStrokes } from './draw-scene.js';

/** 400 × 200 mm. */
const GRID = unwrap(describeGrid(gridStrokes(evenly(9, 50), evenly(5, 50))));
const SIZE = { widthPx: 1000, heightPx: 500 };

/** 2 px per mm, Y upwards, commanded zero at (left, bottom). */
function mapAt(left: number, bottom: number): ImageMap {
  return {
    homography: Float64Array.of(2, 0, left, 0, -2, bottom, 0, 0, 1),
    centrePx: [500, 250],
    radiusPx: 559,
    k1: 0,
    k2: 0,
  };
}

function cover(left: number, bottom: number, orientation: 1 | 3 | 6 = 1) {
  const frame = displayFrame(SIZE, orientation, Number.POSITIVE_INFINITY);
  return gridCoverage(GRID, mapAt(left, bottom), frame);
}

describe('the coverage of a grid', () => {
  it('is whole where the grid lies inside, with the shares of the picture it fills', () => {
    const found = cover(100, 450)!;
    expect(found.inPicture).toBe(1);
    expect(found.cut).toEqual([]);
    // 800 of 1000 px and 400 of 500 px.
    expect(found.width).toBeCloseTo(0.8, 6);
    expect(found.height).toBeCloseTo(0.8, 6);
    expect(found.mmPerPx).toBeCloseTo(0.5, 6);
  });

  it('names the side where the grid is cut, and how much of it is outside', () => {
    // The first 100 px, 50 of 400 mm, lie beyond the left border.
    const found = cover(-100, 450)!;
    expect(found.cut).toEqual(['left']);
    expect(found.inPicture).toBeCloseTo(1 - 50 / 400, 2);
    expect(found.width).toBeCloseTo(0.7, 2);
  });

  it('names sides as people see the picture', () => {
    expect(cover(-100, 450, 3)!.cut).toEqual(['right']);
    // Turned clockwise for display, the stored left becomes the top.
    expect(cover(-100, 450, 6)!.cut).toEqual(['top']);
  });

  it('names two sides where two are cut', () => {
    expect(cover(-100, 550)!.cut).toEqual(['left', 'bottom']);
  });

  it('is not known where the whole grid lies outside', () => {
    expect(cover(-5000, 450)).toBeUndefined();
  });
});
