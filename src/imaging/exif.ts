/** What the camera wrote about itself, and what follows from it. */

/** EXIF orientation: 1 upright, 3 upside down, 6 and 8 on a side; 2, 4, 5, 7 the same mirrored. */
export type Orientation = 1 | 2 | 3 | 4 | 5 | 6 | 7 | 8;

export interface Exif {
  readonly make?: string;
  readonly model?: string;
  readonly focalLengthMm?: number;
  /** Focal length that gives the same angle over the diagonal of a 36 × 24 mm frame, mm. */
  readonly focalLength35mm?: number;
  readonly orientation: Orientation;
  /** As written, `2026:11:20 10:15:00`: local time, no zone. */
  readonly takenAt?: string;
}

/** Diagonal of the 36 × 24 mm frame. */
const DIAGONAL_35MM = Math.hypot(36, 24);

const TAGS = [
  'Make',
  'Model',
  'FocalLength',
  'FocalLengthIn35mmFormat',
  'DateTimeOriginal',
  'Orientation',
];

/**
 * Reads EXIF data. Damaged data are no reason to refuse a photo: what cannot be read is unset.
 *
 * @param bytes a TIFF structure (an EXIF block without its `Exif\0\0`) or a whole TIFF file.
 */
export async function readExif(bytes: Uint8Array | undefined): Promise<Exif> {
  const tags = bytes === undefined ? {} : await parseTags(bytes);
  const make = asText(tags.Make);
  const model = asText(tags.Model);
  const takenAt = asText(tags.DateTimeOriginal);
  const focalLengthMm = asLength(tags.FocalLength);
  const focalLength35mm = asLength(tags.FocalLengthIn35mmFormat);
  return {
    ...(make === undefined ? {} : { make }),
    ...(model === undefined ? {} : { model }),
    ...(focalLengthMm === undefined ? {} : { focalLengthMm }),
    ...(focalLength35mm === undefined ? {} : { focalLength35mm }),
    ...(takenAt === undefined ? {} : { takenAt }),
    orientation: asOrientation(tags.Orientation),
  };
}

async function parseTags(bytes: Uint8Array): Promise<Record<string, unknown>> {
  try {
    const { default: exifr } = await import('exifr');
    const tags = await exifr.parse(bytes, {
      pick: TAGS,
      translateValues: false,
      reviveValues: false,
    });
    return (tags as Record<string, unknown> | undefined) ?? {};
  } catch {
    return {};
  }
}

/** Some cameras pad with blanks or zero bytes. */
function asText(value: unknown): string | undefined {
  if (typeof value !== 'string') return undefined;
  const text = value.replaceAll('\0', '').trim();
  return text === '' ? undefined : text;
}

/** 0 means unknown in EXIF. */
function asLength(value: unknown): number | undefined {
  return typeof value === 'number' && Number.isFinite(value) && value > 0 ? value : undefined;
}

function asOrientation(value: unknown): Orientation {
  const isKnown = typeof value === 'number' && Number.isInteger(value) && value >= 1 && value <= 8;
  return isKnown ? (value as Orientation) : 1;
}

/**
 * The focal length in pixels that the 35 mm equivalent stands for, by the frame's diagonal;
 * undefined without one. Good to some per cent: makers round and crop.
 * Source: CIPA DCG-001 defines the equivalent by the diagonal (from memory).
 */
export function focalLengthPx(
  exif: Pick<Exif, 'focalLength35mm'>,
  widthPx: number,
  heightPx: number,
): number | undefined {
  if (exif.focalLength35mm === undefined) return undefined;
  return (exif.focalLength35mm / DIAGONAL_35MM) * Math.hypot(widthPx, heightPx);
}

/** Turns the sensor's picture upright for people, degrees clockwise. Mirroring is left out. */
export function uprightRotation(orientation: Orientation): 0 | 90 | 180 | 270 {
  const turns = { 1: 0, 2: 0, 3: 180, 4: 180, 5: 270, 6: 90, 7: 90, 8: 270 } as const;
  return turns[orientation];
}
