/** The options of `forecast`: photos, camera, tape and what is wanted, as words and numbers. */

import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import { QUANTITY_KEYS, QUANTITY_UNIT } from '../shared/quantity-keys.js';
import { type ForecastName, PHOTO_KINDS } from '../shared/schemas/forecast.js';
import {
  type ForecastRequest,
  failed,
  focalLengthPx,
  LEAST_PLANNED_TURN_DEGREES,
  MEASURE_OF,
  MOST_PHOTOS,
  type Outcome,
  type PhotoGroup,
  type PhotoKind,
  storedFromShown,
  success,
  type TapedLength,
  type Units,
  USUAL_CAMERA,
  USUAL_PHOTOS,
  USUAL_SIGMA,
  USUAL_TILT_RAD,
  USUAL_TURNED_PHOTOS,
  USUAL_TURNED_SIGMA,
} from '../src/index.js';
import type { ForecastOptions } from './forecast.js';
import { parseLength } from './parse-sizes.js';

export type ParsedForecast = Omit<
  ForecastRequest,
  'markedBy' | 'marking' | 'blockDelete' | 'machine'
>;

const NUMBER = String.raw`([+-]?(?:\d+(?:\.\d*)?|\.\d+))`;
const RAD_PER_DEGREE = Math.PI / 180;
/** Beyond it hardly anything of a board is to be seen. */
const MOST_TILT_DEGREES = 60;
/** A thumbnail has fewer pixels on a side, no camera has more. */
const PICTURE_SIDE = { least: 300, most: 30_000 } as const;
/** Focal lengths from fisheye to long tele, in units of the longer side. */
const FOCAL = { least: 0.3, most: 20 } as const;
const FILL_PERCENT = { least: 5, most: 100 } as const;
/** Coarser readings than ten pixels are none. */
const MOST_PIXEL_SIGMA = 10;

/**
 * @param isTurned two programs are named.
 * Fails: WRONG_CALL, naming the option.
 */
export function parseForecast(options: ForecastOptions, isTurned = false): Outcome<ParsedForecast> {
  if (options.photos !== undefined && options.want !== undefined) {
    return failed('WRONG_CALL', '--photos and --want exclude each other', {
      hint: '--want tries sets of photos itself; without it --photos says what that set reaches',
    });
  }
  const turn = parseTurn(options.turn, isTurned);
  if (!turn.ok) return turn;
  const usual = isTurned
    ? { photos: USUAL_TURNED_PHOTOS, sigma: USUAL_TURNED_SIGMA }
    : { photos: USUAL_PHOTOS, sigma: USUAL_SIGMA };
  const photos = options.photos === undefined ? success(usual.photos) : parsePhotos(options.photos);
  if (!photos.ok) return photos;
  const wanted = parseAll(options.want ?? [], (text) => parseWanted(text, options.units));
  if (!wanted.ok) return wanted;
  const camera = parseCamera(options);
  if (!camera.ok) return camera;
  const fill = parseNumber('--fill', options.fill, FILL_PERCENT.least, FILL_PERCENT.most);
  if (!fill.ok) return fill;
  const pixel =
    options.pixel === undefined
      ? success(usual.sigma.pixelPx)
      : parseNumber('--pixel', options.pixel, Number.MIN_VALUE, MOST_PIXEL_SIGMA);
  if (!pixel.ok) return pixel;
  const mark =
    options.mark === undefined
      ? success(usual.sigma.markMm)
      : parseLength('--mark', options.mark, options.units);
  if (!mark.ok) return mark;
  const taped = parseAll(options.taped ?? [], (text) => parseTaped(text, options.units));
  if (!taped.ok) return taped;
  const square =
    options.square === undefined ? undefined : parseSquare(options.square, options.units);
  if (square !== undefined && !square.ok) return square;
  return success({
    camera: camera.value,
    photos: photos.value,
    fill: fill.value / 100,
    sigmaPixelPx: pixel.value,
    sigmaMarkMm: mark.value,
    tapeClass: options.tapeClass,
    taped: taped.value,
    ...(square === undefined ? {} : { squareCheck: square.value }),
    wanted: wanted.value.flat(),
    ...(turn.value === undefined ? {} : { turnRad: turn.value }),
  });
}

/** Degrees, to either side. Fails: WRONG_CALL. */
function parseTurn(text: string | undefined, isTurned: boolean): Outcome<number | undefined> {
  if (text === undefined) return success(undefined);
  if (!isTurned) {
    return refuse(
      '--turn',
      'it is of a board that two programs mark',
      'name both with --program, or leave out --turn',
    );
  }
  const degrees = parseNumber('--turn', text, -180, 180, 'a turn in degrees');
  if (!degrees.ok) return degrees;
  if (Math.abs(degrees.value) < LEAST_PLANNED_TURN_DEGREES) {
    return refuse(
      '--turn',
      `expected at least ${LEAST_PLANNED_TURN_DEGREES} degrees to either side, found "${text}"`,
      'turned by less, a board is marked again, not turned',
    );
  }
  return success(degrees.value * RAD_PER_DEGREE);
}

/** `8 overhead 2, 4 walked 20`. Fails: WRONG_CALL. */
export function parsePhotos(text: string): Outcome<PhotoGroup[]> {
  const form = new RegExp(String.raw`^(\d+)\s+(${PHOTO_KINDS.join('|')})(?:\s+${NUMBER}°?)?$`, 'i');
  const groups = parseAll(text.split(','), (part) => {
    const match = form.exec(part.trim());
    if (match === null) {
      return refuse(
        '--photos',
        `expected COUNT KIND TILT, found "${part.trim()}"`,
        `kinds are ${PHOTO_KINDS.join(', ')}; such as --photos "8 overhead 2, 4 walked 20"`,
      );
    }
    const kind = match[2]!.toLowerCase() as PhotoKind;
    const tilt =
      match[3] === undefined ? success(USUAL_TILT_RAD[kind] / RAD_PER_DEGREE) : parseTilt(match[3]);
    if (!tilt.ok) return tilt;
    return success({ kind, count: Number(match[1]), tiltRad: tilt.value * RAD_PER_DEGREE });
  });
  if (!groups.ok) return groups;
  const counts = groups.value.map(({ count }) => count);
  const total = counts.reduce((sum, count) => sum + count, 0);
  if (counts.includes(0) || total > MOST_PHOTOS) {
    return refuse(
      '--photos',
      `expected 1 to ${MOST_PHOTOS} photos, found ${total}`,
      'more than two dozen gain next to nothing',
    );
  }
  return groups;
}

function parseTilt(text: string): Outcome<number> {
  return parseNumber('--photos', text, 0, MOST_TILT_DEGREES, 'a tilt in degrees');
}

function parseCamera({ picture, focal }: ForecastOptions): Outcome<ForecastRequest['camera']> {
  const sides = /^\s*(\d+)\s*[x×]\s*(\d+)\s*$/i.exec(picture)?.slice(1).map(Number);
  const { least, most } = PICTURE_SIDE;
  if (sides === undefined || !sides.every((side) => side >= least && side <= most)) {
    return refuse(
      '--picture',
      `expected two sides of ${least} to ${most} pixels, found "${picture}"`,
      'write width and height in pixels, such as 4000x3000',
    );
  }
  const [widthPx, heightPx] = sides as [number, number];
  const size = { widthPx, heightPx };
  const match = new RegExp(String.raw`^\s*${NUMBER}\s*(px|mm)\s*$`, 'i').exec(focal);
  const isUnknown = /^\s*unknown\s*$/i.test(focal);
  const usual = { focalLength35mm: USUAL_CAMERA.focalLength35mm };
  const length = isUnknown
    ? focalLengthPx(usual, widthPx, heightPx)
    : match === null
      ? undefined
      : match[2]!.toLowerCase() === 'px'
        ? Number(match[1])
        : focalLengthPx({ focalLength35mm: Number(match[1]) }, widthPx, heightPx);
  const longest = Math.max(widthPx, heightPx);
  if (
    !(length !== undefined && length >= FOCAL.least * longest && length <= FOCAL.most * longest)
  ) {
    return refuse(
      '--focal',
      `expected ${Math.ceil(FOCAL.least * longest)} to ${FOCAL.most * longest} pixels for such a picture, found "${focal}"`,
      'write pixels (3000px), the 35 mm equivalent (26mm) that EXIF data hold, or unknown',
    );
  }
  return success({ ...size, focalLengthPx: length, focalLengthKnown: !isUnknown });
}

/** `squareness 0.1`, `scale 0.2`, `lost motion x 0.01`; an axis left out means both. Fails: WRONG_CALL. */
export function parseWanted(text: string, units: Units): Outcome<ForecastRequest['wanted']> {
  const match = new RegExp(String.raw`^\s*([a-z][a-z :.]*?)\s+${NUMBER}\s*$`, 'i').exec(text);
  const names = match === null ? [] : findQuantities(match[1]!);
  const hint = `write a quantity and its expanded uncertainty in ${units === 'mm' ? 'mm/m or mm' : 'inch per foot or inch'}, such as --want "squareness ${units === 'mm' ? '0.1' : '0.001'}"; quantities: squareness, scale, ratio, lost motion, straightness, racking, periodic, drift, with x or y where only one axis is meant`;
  if (match === null || names.length === 0) {
    return refuse('--want', `expected QUANTITY U, found "${text}"`, hint);
  }
  const shown = Number(match[2]);
  if (!(shown > 0)) {
    return refuse('--want', `expected an uncertainty above 0, found "${text}"`, hint);
  }
  return success(
    names.map((what) => ({
      what,
      unit: QUANTITY_UNIT[what],
      U: storedFromShown(MEASURE_OF[what], shown, units),
    })),
  );
}

function findQuantities(words: string): ForecastName[] {
  const name = words.toLowerCase().replace(/[\s.]+/g, '');
  const plain = name === 'ratio' || name === 'scalex:y' ? 'scaleratio' : name;
  return QUANTITY_KEYS.filter((what) => {
    const key = what.toLowerCase().replace('.', '');
    if (key === plain) return true;
    return (key === `${plain}x` || key === `${plain}y`) && key !== 'scaleratio';
  });
}

function parseTaped(text: string, units: Units): Outcome<TapedLength> {
  const word = text.trim().toLowerCase();
  if (word === 'x' || word === 'y' || word === 'diagonals') return success(word);
  const match = new RegExp(
    String.raw`^\s*${NUMBER}\s*,\s*${NUMBER}\s+${NUMBER}\s*,\s*${NUMBER}\s*$`,
  ).exec(text);
  if (match === null) {
    return refuse(
      '--taped',
      `expected x, y, diagonals or X1,Y1 X2,Y2, found "${text}"`,
      'x and y are the first lines of the grid from end to end; else name two crossings, such as --taped "0,0 720,480"',
    );
  }
  const factor = units === 'mm' ? 1 : MM_PER_INCH;
  const [x1, y1, x2, y2] = match.slice(1).map((part) => Number(part) * factor) as [
    number,
    number,
    number,
    number,
  ];
  if (x1 === x2 && y1 === y2) {
    return refuse('--taped', `both ends are the same, found "${text}"`, 'name two crossings');
  }
  return success({ fromMm: [x1, y1], toMm: [x2, y2] });
}

function parseSquare(
  text: string,
  units: Units,
): Outcome<NonNullable<ForecastRequest['squareCheck']>> {
  const match = new RegExp(String.raw`^\s*${NUMBER}\s+${NUMBER}\s*$`).exec(text);
  const factor = units === 'mm' ? 1 : MM_PER_INCH;
  const [runMm, uMm] = match?.slice(1).map((part) => Number(part) * factor) ?? [0, 0];
  if (!(runMm! > 0 && uMm! > 0)) {
    return refuse(
      '--square',
      `expected RUN U, both above 0, found "${text}"`,
      'write the run along the leg and the standard uncertainty of the deviation, such as --square "300 0.02"',
    );
  }
  return success({ runMm: runMm!, uMm: uMm! });
}

function parseNumber(
  option: string,
  text: string,
  least: number,
  most: number,
  what = 'a number',
): Outcome<number> {
  const match = new RegExp(`^\\s*${NUMBER}\\s*$`).exec(text);
  const value = match === null ? Number.NaN : Number(match[1]);
  if (value >= least && value <= most) return success(value);
  const from = least === Number.MIN_VALUE ? 'above 0' : `from ${least}`;
  return refuse(
    option,
    `expected ${what} ${from}, up to ${most}, found "${text}"`,
    'correct the option',
  );
}

function parseAll<T>(texts: readonly string[], parse: (text: string) => Outcome<T>): Outcome<T[]> {
  const values: T[] = [];
  for (const text of texts) {
    const parsed = parse(text);
    if (!parsed.ok) return parsed;
    values.push(parsed.value);
  }
  return success(values);
}

function refuse(option: string, message: string, hint: string): ReturnType<typeof failed> {
  return failed('WRONG_CALL', `${option}: ${message}`, { hint });
}
