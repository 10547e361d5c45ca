import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import {
  compositeSvg,
  displayFrame,
  focalLengthPx,
  type Orientation,
  shrink,
  uprightRotation,
} from '../../../src/imaging/index.js';
import { unwrap } from '../../../src/quantity/index.js';

describe('shrink', () => {
  test('each pixel is the mean of its square, and what is left over is dropped', () => {
    const grey = {
      width: 5,
      height: 3,
      data: Uint8Array.from([0, 10, 100, 100, 9, 20, 31, 100, 101, 9, 255, 255, 255, 255, 255]),
    };
    // (0 + 10 + 20 + 31) / 4 = 15.25; (100 + 100 + 100 + 101) / 4 = 100.25.
    expect(shrink(grey, 2)).toEqual({ width: 2, height: 1, data: Uint8Array.from([15, 100]) });
    expect(shrink(grey, 1)).toEqual(grey);
  });

  test('a factor that leaves no pixel is a fault of the caller', () => {
    const grey = { width: 2, height: 2, data: new Uint8Array(4) };
    for (const factor of [0, 1.5, 3]) expect(() => shrink(grey, factor)).toThrow(RangeError);
  });

  test('a mark stays where the pixel centres say', () => {
    const width = 40;
    const data = new Uint8Array(width * 4);
    for (let row = 0; row < 4; row += 1) data[row * width + 22] = 200;
    const small = shrink({ width, height: 4, data }, 4);
    const at = small.data.indexOf(50);
    // Pixel 5 covers columns 20 to 23, its centre is 21.5.
    expect(at * 4 + 1.5).toBe(21.5);
  });
});

test('the 35 mm equivalent refers to the diagonal', () => {
  // A frame of 3600 × 2400 pixels has the shape of 36 × 24 mm: 100 pixels a mm.
  expect(focalLengthPx({ focalLength35mm: 26 }, 3600, 2400)).toBeCloseTo(2600, 9);
  // 4000 × 3000: diagonal 5000 pixels over 43.2666 mm.
  expect(focalLengthPx({ focalLength35mm: 26 }, 4000, 3000)).toBeCloseTo(3004.63, 1);
  expect(focalLengthPx({}, 4000, 3000)).toBeUndefined();
});

describe('pictures for people', () => {
  const width = 60;
  const height = 40;
  /** Black, with one white pixel in the sensor frame. */
  function dot(u: number, v: number) {
    const data = new Uint8Array(width * height);
    data[v * width + u] = 255;
    return { width, height, data };
  }

  test.each([1, 3, 6, 8] as Orientation[])(
    'orientation %i shows a point where the decoder’s own turning shows it',
    async (orientation) => {
      const grey = dot(50, 4);
      const tagged = await sharp(grey.data, { raw: { width, height, channels: 1 } })
        .withMetadata({ orientation })
        .png()
        .toBuffer();
      const turned = await sharp(tagged)
        .autoOrient()
        .greyscale()
        .raw()
        .toBuffer({ resolveWithObject: true });
      const frame = displayFrame({ widthPx: width, heightPx: height }, orientation);
      expect([frame.widthPx, frame.heightPx]).toEqual([turned.info.width, turned.info.height]);
      const [x, y] = frame.displayFromSensor([50, 4]);
      expect(turned.data[Math.floor(y) * turned.info.width + Math.floor(x)]).toBe(255);
      expect(uprightRotation(orientation)).toBe({ 1: 0, 3: 180, 6: 90, 8: 270 }[orientation as 1]);

      const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${frame.widthPx}" height="${frame.heightPx}"><rect x="0" y="0" width="2" height="2" fill="#f00"/></svg>`;
      const shown = unwrap(await compositeSvg(grey, svg, { orientation, format: 'png' }));
      const pixels = await sharp(shown).removeAlpha().raw().toBuffer({ resolveWithObject: true });
      const at = (px: number, py: number) => {
        const start = (py * pixels.info.width + px) * pixels.info.channels;
        return [...pixels.data.subarray(start, start + 3)];
      };
      expect(pixels.info.channels).toBe(3);
      expect(at(0, 0)).toEqual([255, 0, 0]);
      expect(at(Math.floor(x), Math.floor(y))).toEqual([255, 255, 255]);
      expect(at(20, 20)).toEqual([0, 0, 0]);
    },
  );

  test('a wide picture is shrunk, and points with it', async () => {
    const frame = displayFrame({ widthPx: 4000, heightPx: 3000 }, 6, 1500);
    expect([frame.widthPx, frame.heightPx, frame.scale]).toEqual([1500, 2000, 0.5]);
    // A quarter turn clockwise takes the first pixel to the top right corner.
    expect(frame.displayFromSensor([0, 0])).toEqual([1499.75, 0.25]);
    const grey = { width: 400, height: 300, data: new Uint8Array(120_000).fill(90) };
    const svg = '<svg xmlns="http://www.w3.org/2000/svg" width="10" height="10"/>';
    const jpeg = unwrap(await compositeSvg(grey, svg, { orientation: 1, mostWidthPx: 200 }));
    expect(await sharp(jpeg).metadata()).toMatchObject({ format: 'jpeg', width: 200, height: 150 });
  });

  test('a photo that is not there is a failure', async () => {
    expect(await compositeSvg('/nowhere/photo.jpg', '<svg/>', { orientation: 1 })).toMatchObject({
      ok: false,
    });
  });
});
