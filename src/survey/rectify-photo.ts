/** A photo resampled true to scale, as if taken from straight above without any lens error. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import { loadSharp } from '../imaging/load-sharp.js';
import { openPicture } from '../imaging/open-picture.js';
import { readBytes } from '../imaging/read-bytes.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import type { SurveyedPhoto } from './survey-request.js';

export interface RectifiedPhoto {
  readonly jpeg: Buffer;
  readonly widthPx: number;
  /** Without the caption's strip below. */
  readonly heightPx: number;
  readonly mmPerPx: number;
  /** Place of the commanded origin, px from the centre of the upper left pixel; may lie outside. */
  readonly originPx: readonly [number, number];
}

/** A phone's pixel covers 0.2 to 0.4 mm of a bed: finer would be made up. */
export const RECTIFIED_MM_PER_PX = 0.25;
/** Beyond this, pictures are hard to open; pixels become larger instead. */
const MOST_PIXELS = 40e6;
/** Outside the photo. */
const EMPTY_GREY = 128;
const CAPTION_PX = 48;

/**
 * Resamples the grid's board rectangle by bilinear interpolation; X to the right, Y up.
 *
 * @param mmPerPx enlarged in steps of 0.05 where the picture would have more than 40 megapixels.
 * Fails: as reading a photo; NO_CONVERGENCE where nothing was adjusted.
 */
export async function rectifyPhoto(
  path: string,
  surveyed: Pick<SurveyedPhoto, 'imageFromBoard' | 'boardExtentMm'>,
  mmPerPx = RECTIFIED_MM_PER_PX,
): Promise<Outcome<RectifiedPhoto>> {
  const { imageFromBoard, boardExtentMm } = surveyed;
  if (imageFromBoard === undefined) {
    return failed('NO_CONVERGENCE', 'without an adjustment there is no picture true to scale', {
      where: path,
      hint: 'settle first which way round the grid lies',
    });
  }
  const read = await readColours(path);
  if (!read.ok) return read;
  const plan = planPicture(boardExtentMm, mmPerPx);
  const pixels = resample(read.value, plan, imageFromBoard);
  const jpeg = await encode(pixels, plan);
  const originPx = [-plan.leftMm / plan.mmPerPx - 0.5, plan.topMm / plan.mmPerPx - 0.5] as const;
  const { widthPx, heightPx } = plan;
  return success({ jpeg, widthPx, heightPx, mmPerPx: plan.mmPerPx, originPx });
}

interface Colours {
  readonly width: number;
  readonly height: number;
  /** height × width × 3. */
  readonly data: Uint8Array;
}

/** In the sensor frame: not turned by the EXIF orientation. */
async function readColours(path: string): Promise<Outcome<Colours>> {
  const bytes = await readBytes(path);
  if (!bytes.ok) return bytes;
  const opened = await openPicture(bytes.value, path);
  if (!opened.ok) return opened;
  const decoder = await opened.value.decode();
  const { data, info } = await decoder
    .flatten({ background: '#ffffff' })
    .toColourspace('srgb')
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const isGrey = info.channels === 1;
  return success({
    width: info.width,
    height: info.height,
    data: isGrey ? spreadGrey(data) : data,
  });
}

function spreadGrey(grey: Uint8Array): Uint8Array {
  const data = new Uint8Array(grey.length * 3);
  grey.forEach((value, i) => {
    data.fill(value, 3 * i, 3 * i + 3);
  });
  return data;
}

interface Plan {
  readonly leftMm: number;
  readonly topMm: number;
  readonly mmPerPx: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

function planPicture({ x, y }: SurveyedPhoto['boardExtentMm'], wanted: number): Plan {
  const [wide, high] = [x[1] - x[0], y[1] - y[0]];
  const least = Math.sqrt((wide * high) / MOST_PIXELS);
  const mmPerPx = wanted >= least ? wanted : Math.ceil(least / 0.05) * 0.05;
  const rounded = Number(mmPerPx.toFixed(4));
  return {
    leftMm: x[0],
    topMm: y[1],
    mmPerPx: rounded,
    widthPx: Math.max(1, Math.round(wide / rounded)),
    heightPx: Math.max(1, Math.round(high / rounded)),
  };
}

function resample(
  source: Colours,
  { leftMm, topMm, mmPerPx, widthPx, heightPx }: Plan,
  imageFromBoard: NonNullable<SurveyedPhoto['imageFromBoard']>,
): Uint8Array {
  const pixels = new Uint8Array(widthPx * heightPx * 3).fill(EMPTY_GREY);
  const { width, height, data } = source;
  let to = 0;
  for (let row = 0; row < heightPx; row += 1) {
    const y = topMm - (row + 0.5) * mmPerPx;
    for (let column = 0; column < widthPx; column += 1, to += 3) {
      const [u, v] = imageFromBoard(leftMm + (column + 0.5) * mmPerPx, y);
      if (!(u >= 0 && v >= 0 && u <= width - 1 && v <= height - 1)) continue;
      const left = Math.min(Math.floor(u), width - 2);
      const upper = Math.min(Math.floor(v), height - 2);
      const [p, q] = [u - left, v - upper];
      const at = 3 * (upper * width + left);
      const below = at + 3 * width;
      for (let c = 0; c < 3; c += 1) {
        const above = (1 - p) * data[at + c]! + p * data[at + 3 + c]!;
        const under = (1 - p) * data[below + c]! + p * data[below + 3 + c]!;
        pixels[to + c] = Math.round((1 - q) * above + q * under);
      }
    }
  }
  return pixels;
}

/** With a strip that states the scale, and the resolution in the file, so that it prints true. */
async function encode(pixels: Uint8Array, plan: Plan): Promise<Buffer> {
  const { widthPx, heightPx, mmPerPx } = plan;
  const text = `1 pixel = ${mmPerPx} mm (${number(MM_PER_INCH / mmPerPx)} per inch); X to the right, Y up; lower left corner at X ${number(plan.leftMm)} Y ${number(plan.topMm - heightPx * mmPerPx)} mm`;
  // About half the height of a letter is its width.
  const size = Math.min(22, (widthPx - 20) / (0.55 * text.length));
  const strip = Buffer.from(
    `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${CAPTION_PX}"><rect width="100%" height="100%" fill="#ffffff"/><text x="10" y="${CAPTION_PX / 2 + size / 3}" font-family="sans-serif" font-size="${size}" fill="#000000">${text}</text></svg>`,
  );
  const sharp = await loadSharp();
  return sharp(pixels, { raw: { width: widthPx, height: heightPx, channels: 3 } })
    .extend({ bottom: CAPTION_PX, background: '#ffffff' })
    .composite([{ input: strip, top: heightPx, left: 0 }])
    .jpeg({ quality: 90 })
    .withMetadata({ density: MM_PER_INCH / mmPerPx })
    .toBuffer();
}

function number(value: number): string {
  return String(Number(value.toFixed(2)));
}
