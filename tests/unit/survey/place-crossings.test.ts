import { describe, expect, it } from 'vitest';
import { placeCrossings } from '../../../src/survey/place-crossings.js';

/** Where the display shows a sensor pixel, by the table of EXIF 2.32, 4.6.4 A, Orientation. */
const CASES = [
  { orientation: 1, sensor: [100, 30], shown: [100, 30] },
  { orientation: 3, sensor: [100, 30], shown: [399 - 100, 299 - 30] },
  { orientation: 6, sensor: [100, 30], shown: [299 - 30, 100] },
  { orientation: 8, sensor: [100, 30], shown: [30, 399 - 100] },
] as const;

describe('a pixel of the upright picture', () => {
  for (const { orientation, sensor, shown } of CASES) {
    it(`is that of the sensor, orientation ${orientation}`, () => {
      const photo = { widthPx: 400, heightPx: 300, exif: { orientation } };
      const seen = { photo: 'p.jpg', columnPx: shown[0], rowPx: shown[1], xMm: 1, yMm: 2 };
      const [placed] = placeCrossings([seen], 'folder/p.jpg', photo as never);
      expect(placed.uPx).toBeCloseTo(sensor[0], 9);
      expect(placed.vPx).toBeCloseTo(sensor[1], 9);
    });
  }

  it('of another photo is left alone', () => {
    const photo = { widthPx: 400, heightPx: 300, exif: { orientation: 1 } };
    const seen = { photo: 'q.jpg', columnPx: 1, rowPx: 1, xMm: 1, yMm: 2 };
    expect(placeCrossings([seen], 'p.jpg', photo as never)).toEqual([]);
  });
});
