import { describe, expect, it } from 'vitest';
import { imageFromCommanded } from '../../../src/marks/index.js';
import {
  type StoredTurn,
  sensorFromStored,
  sensorSize,
  storedFromSensor,
  turnMap,
  turnObservation,
} from '../../../src/survey/stored-turn.js';

/** A sensor of 4 × 3 pixels, stored clockwise by a quarter turn: 3 wide, 4 high. */
const STORED = { widthPx: 3, heightPx: 4 };

describe('pictures that software stored turned', () => {
  it('the sensor’s first pixel lies at the right end of the top row after a clockwise turn', () => {
    expect(sensorFromStored(STORED, 90, 2, 0)).toEqual([0, 0]);
    // The sensor's top row runs down the stored right column.
    expect(sensorFromStored(STORED, 90, 2, 3)).toEqual([3, 0]);
  });

  it('the sensor’s first pixel lies at the left end of the bottom row after a counter-clockwise turn', () => {
    expect(sensorFromStored(STORED, 270, 0, 3)).toEqual([0, 0]);
    expect(sensorFromStored(STORED, 270, 0, 0)).toEqual([3, 0]);
  });

  it('the sensor’s frame is as wide as the stored picture is high', () => {
    expect(sensorSize(STORED, 90)).toEqual({ widthPx: 4, heightPx: 3 });
    expect(sensorSize(STORED, 0)).toEqual(STORED);
  });

  it.each([0, 90, 270] as StoredTurn[])('turning by %s° and back changes nothing', (turn) => {
    const [u, v] = sensorFromStored(STORED, turn, 0.3, 2.6);
    const [u0, v0] = storedFromSensor(STORED, turn, u, v);
    expect(u0).toBeCloseTo(0.3, 12);
    expect(v0).toBeCloseTo(2.6, 12);
  });

  it.each([90, 270] as StoredTurn[])(
    'a map turned by %s° leads where the turned pixel lies, lens included',
    (turn) => {
      const size = { widthPx: 3000, heightPx: 4000 };
      const map = {
        homography: Float64Array.from([3, 0.2, 400, -0.1, -3.1, 3500, 1e-5, 2e-5, 1]),
        centrePx: [1480, 2010] as const,
        radiusPx: 2500,
        k1: -0.05,
        k2: 0.01,
      };
      const [u, v] = imageFromCommanded(map, 300, 200);
      const [su, sv] = imageFromCommanded(turnMap(size, turn, map), 300, 200);
      const [eu, ev] = sensorFromStored(size, turn, u, v);
      expect(su).toBeCloseTo(eu, 8);
      expect(sv).toBeCloseTo(ev, 8);
    },
  );

  it('a normal turns along with its mark and stays of length one', () => {
    const seen = {
      segmentId: 7,
      xMm: 0,
      yMm: 0,
      uPx: 1,
      vPx: 2,
      normalU: 0.6,
      normalV: 0.8,
      sigmaPx: 0.05,
    };
    const turned = turnObservation(STORED, 90, seen);
    // Back by a counter-clockwise quarter turn: right becomes up, down becomes right.
    expect(turned.normalU).toBeCloseTo(0.8, 12);
    expect(turned.normalV).toBeCloseTo(-0.6, 12);
    expect(turned.segmentId).toBe(7);
  });
});
