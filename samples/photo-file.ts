/** A rendered photo as a phone would store it: JPEG, sensor raster, EXIF tags. */

import sharp from 'sharp';

export interface PhotoTags {
  readonly make: string;
  readonly model: string;
  readonly focalLengthMm: number;
  readonly focalLengthIn35mmFilm: number;
  /** EXIF orientation, 1 to 8; it says how to show the picture and leaves the raster alone. */
  readonly orientation: number;
  /** Written as it stands in UTC: EXIF dates carry no zone. */
  readonly takenAt: Date;
}

/**
 * Encodes a photo.
 *
 * @param pixels height×width×3, row-major, 8 bits.
 */
export async function encodePhoto(
  pixels: Uint8Array,
  widthPx: number,
  heightPx: number,
  quality: number,
  tags: PhotoTags,
): Promise<Buffer> {
  const time = exifTime(tags.takenAt);
  return await sharp(pixels, { raw: { width: widthPx, height: heightPx, channels: 3 } })
    .withMetadata({ orientation: tags.orientation })
    .withExif({
      IFD0: {
        Make: tags.make,
        Model: tags.model,
        Orientation: String(tags.orientation),
        DateTime: time,
      },
      IFD2: {
        DateTimeOriginal: time,
        FocalLength: `${Math.round(tags.focalLengthMm * 1000)}/1000`,
        FocalLengthIn35mmFilm: String(tags.focalLengthIn35mmFilm),
      },
    })
    .jpeg({ quality, chromaSubsampling: '4:2:0' })
    .toBuffer();
}

function exifTime(time: Date): string {
  return time.toISOString().slice(0, 19).replace(/-/g, ':').replace('T', ' ');
}
