/** A photo as people see it, upright and not too large, with a drawing over it. */

import type { Sharp } from 'sharp';
import { type GreyImage, type Outcome, type SensorPoint, success } from '../quantity/index.js';
import { type Orientation, uprightRotation } from './exif.js';
import { loadSharp } from './load-sharp.js';
import { describeDamage, openPicture } from './open-picture.js';
import { readBytes } from './read-bytes.js';

/** The displayed picture: x right, y down, 0 at the outer edge of the first pixel, as in SVG. */
export interface DisplayFrame {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Display pixels per sensor pixel, at most 1. */
  readonly scale: number;
  readonly displayFromSensor: (point: SensorPoint) => readonly [xPx: number, yPx: number];
  readonly sensorFromDisplay: (point: readonly [xPx: number, yPx: number]) => SensorPoint;
}

/** Wide enough to see a line of some pixels, small enough for a report of many photos. */
export const DISPLAY_WIDTH_PX = 2000;

/**
 * The frame in which a photo is displayed: turned upright, never mirrored, shrunk to the width.
 *
 * @param widthPx size of the sensor's picture.
 */
export function displayFrame(
  size: { readonly widthPx: number; readonly heightPx: number },
  orientation: Orientation,
  mostWidthPx = DISPLAY_WIDTH_PX,
): DisplayFrame {
  const turn = uprightRotation(orientation);
  const isTurned = turn === 90 || turn === 270;
  const [wide, high] = isTurned ? [size.heightPx, size.widthPx] : [size.widthPx, size.heightPx];
  const widthPx = Math.min(wide, mostWidthPx);
  const heightPx = Math.max(1, Math.round((high * widthPx) / wide));
  return {
    widthPx,
    heightPx,
    scale: widthPx / wide,
    displayFromSensor: ([u, v]) => {
      // From centres of pixels to edges, as the display counts.
      const [x, y] = [u + 0.5, v + 0.5];
      const turned = {
        0: [x, y],
        90: [size.heightPx - y, x],
        180: [size.widthPx - x, size.heightPx - y],
        270: [y, size.widthPx - x],
      }[turn] as [number, number];
      return [(turned[0] * widthPx) / wide, (turned[1] * heightPx) / high];
    },
    sensorFromDisplay: ([shownX, shownY]) => {
      const [x, y] = [(shownX * wide) / widthPx, (shownY * high) / heightPx];
      const turned = {
        0: [x, y],
        90: [y, size.heightPx - x],
        180: [size.widthPx - x, size.heightPx - y],
        270: [size.widthPx - y, x],
      }[turn] as [number, number];
      return [turned[0] - 0.5, turned[1] - 0.5];
    },
  };
}

export interface CompositeOptions {
  readonly orientation: Orientation;
  readonly mostWidthPx?: number;
  readonly format?: 'jpeg' | 'png';
}

/**
 * Draws an SVG over a photo.
 *
 * @param source path of the photo, or a grey picture in the sensor frame.
 * @param svg a whole SVG document in the frame of {@link displayFrame}; stretched to it.
 * @returns the picture as a file's bytes, without metadata.
 * Fails: as `readPhoto`, for a path.
 */
export async function compositeSvg(
  source: string | GreyImage,
  svg: string,
  options: CompositeOptions,
): Promise<Outcome<Buffer>> {
  const opened = await openSource(source);
  if (!opened.ok) return opened;
  const { size, decode } = opened.value;
  const frame = displayFrame(size, options.orientation, options.mostWidthPx);
  const sharp = await loadSharp();
  const drawing = await renderSvg(svg, frame);
  try {
    const decoder = await decode();
    const upright = await decoder
      .rotate(uprightRotation(options.orientation))
      .flatten({ background: '#ffffff' })
      .toColourspace('srgb')
      .resize(frame.widthPx, frame.heightPx, { fit: 'fill' })
      .raw()
      .toBuffer({ resolveWithObject: true });
    const { width, height, channels } = upright.info;
    blendOver(upright.data, channels, drawing);
    const drawn = sharp(upright.data, { raw: { width, height, channels } });
    const encoded = options.format === 'png' ? drawn.png() : drawn.jpeg({ quality: 85 });
    return success(await encoded.toBuffer());
  } catch (cause) {
    return describeDamage(typeof source === 'string' ? source : 'picture', cause);
  }
}

/** Red, green, blue and opacity of each pixel of the frame; stretched where the drawing has another size. */
async function renderSvg(svg: string, { widthPx, heightPx }: DisplayFrame): Promise<Buffer> {
  const sharp = await loadSharp();
  return sharp(Buffer.from(svg))
    .resize(widthPx, heightPx, { fit: 'fill' })
    .toColourspace('srgb')
    .ensureAlpha()
    .raw()
    .toBuffer();
}

/**
 * Lays a drawing over a picture, in place; most of it is empty, and the decoder's own way would turn every pixel into
 * fractions and back.
 *
 * @param channels of the picture: one of grey, or three.
 */
function blendOver(picture: Buffer, channels: number, drawing: Buffer): void {
  for (let i = 0, j = 0; i < drawing.length; i += 4, j += channels) {
    const opacity = drawing[i + 3]!;
    if (opacity === 0) continue;
    for (let c = 0; c < channels; c++) {
      const below = picture[j + c]!;
      picture[j + c] = Math.round(below + ((drawing[i + c]! - below) * opacity) / 255);
    }
  }
}

interface Source {
  readonly size: { readonly widthPx: number; readonly heightPx: number };
  readonly decode: () => Promise<Sharp>;
}

async function openSource(source: string | GreyImage): Promise<Outcome<Source>> {
  if (typeof source !== 'string') {
    const { width, height, data } = source;
    return success({
      size: { widthPx: width, heightPx: height },
      decode: async () => (await loadSharp())(data, { raw: { width, height, channels: 1 } }),
    });
  }
  const bytes = await readBytes(source);
  if (!bytes.ok) return bytes;
  const opened = await openPicture(bytes.value, source);
  if (!opened.ok) return opened;
  return success({ size: opened.value, decode: opened.value.decode });
}
