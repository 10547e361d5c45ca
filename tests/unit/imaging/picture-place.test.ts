import { describe, expect, it } from 'vitest';
import { displayFrame, placeOf, rankPlaces } from '../../../src/imaging/index.js';

const BOX = { left: 100, top: 50, right: 400, bottom: 350 };

describe('the words for a place in a picture', () => {
  it('name the thirds each way', () => {
    const names = [60, 200, 340].map((y) => [110, 250, 390].map((x) => placeOf([x, y], BOX)));
    expect(names).toEqual([
      ['top left', 'top', 'top right'],
      ['left', 'middle', 'right'],
      ['bottom left', 'bottom', 'bottom right'],
    ]);
  });

  it('give a point outside to the nearest third', () => {
    expect(placeOf([9999, -50], BOX)).toBe('top right');
  });

  it('come with most points first, and not at all where points lie all over', () => {
    const few = [
      ...Array.from({ length: 3 }, () => [110, 60] as const),
      ...Array.from({ length: 7 }, () => [390, 340] as const),
    ];
    expect(rankPlaces(few, BOX)).toEqual(['bottom right', 'top left']);
    const all = [60, 200, 340].flatMap((y) => [110, 250, 390].map((x) => [x, y] as const));
    expect(rankPlaces(all, BOX)).toEqual([]);
  });

  it('follow the picture as people see it, not as it is stored', () => {
    // Orientation 6: turned clockwise by 90° for display, the stored top left is seen at the top right.
    const size = { widthPx: 400, heightPx: 300 };
    const whole = (frame: { widthPx: number; heightPx: number }) => ({
      left: 0,
      top: 0,
      right: frame.widthPx,
      bottom: frame.heightPx,
    });
    const upright = displayFrame(size, 1);
    expect(placeOf(upright.displayFromSensor([10, 10]), whole(upright))).toBe('top left');
    const turned = displayFrame(size, 6);
    expect(placeOf(turned.displayFromSensor([10, 10]), whole(turned))).toBe('top right');
  });
});
