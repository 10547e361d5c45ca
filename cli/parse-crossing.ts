/** The option `--crossing`: where in a photo a commanded crossing is seen. */

import { basename } from 'node:path';
import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import { failed, type Outcome, type SeenCrossing, success } from '../src/index.js';

const NUMBER = String.raw`([+-]?(?:\d+(?:\.\d*)?|\.\d+))`;
const FORM = new RegExp(
  String.raw`^\s*(\S.*?)\s+${NUMBER}\s*,\s*${NUMBER}\s+${NUMBER}\s*,\s*${NUMBER}\s*$`,
);

/**
 * All that were given.
 *
 * Fails: WRONG_CALL, also for a photo that is not among those to be measured.
 */
export function parseCrossings(
  texts: readonly string[],
  units: 'mm' | 'in',
  photoFiles: readonly string[],
): Outcome<SeenCrossing[]> {
  const crossings: SeenCrossing[] = [];
  for (const text of texts) {
    const parsed = parseCrossing(text, units);
    if (!parsed.ok) return parsed;
    const { photo } = parsed.value;
    if (!photoFiles.some((path) => path === photo || basename(path) === photo)) {
      return failed('WRONG_CALL', `--crossing: no photo "${photo}" is given`, {
        hint: `name one of ${photoFiles.map((path) => basename(path)).join(', ')}`,
      });
    }
    crossings.push(parsed.value);
  }
  return success(crossings);
}

/**
 * Parses `PHOTO COLUMN,ROW X,Y`: pixels of the upright picture from its top left corner, X and Y commanded, in the
 * units shown.
 *
 * Fails: WRONG_CALL.
 */
export function parseCrossing(text: string, units: 'mm' | 'in'): Outcome<SeenCrossing> {
  const match = FORM.exec(text);
  if (match === null) {
    return failed('WRONG_CALL', `--crossing: expected PHOTO COLUMN,ROW X,Y, found "${text}"`, {
      hint: 'write the file name of the photo, the pixel where the crossing is seen, and its commanded position, such as --crossing "p3.jpg 1520,880 300,200"',
    });
  }
  const factor = units === 'mm' ? 1 : MM_PER_INCH;
  const [columnPx, rowPx, x, y] = match.slice(2).map(Number) as [number, number, number, number];
  return success({ photo: match[1]!, columnPx, rowPx, xMm: x * factor, yMm: y * factor });
}
