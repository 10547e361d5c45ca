/** The option `--known`: a length taped between the marks of two commanded points. */

import { MM_PER_INCH } from '../shared/mm-per-inch.js';
import { failed, type KnownLength, type Outcome, success } from '../src/index.js';

const NUMBER = String.raw`([+-]?(?:\d+(?:\.\d*)?|\.\d+))`;
const FORM = new RegExp(
  String.raw`^\s*${NUMBER}\s*,\s*${NUMBER}\s+${NUMBER}\s*,\s*${NUMBER}\s+${NUMBER}\s+${NUMBER}\s*$`,
);

/**
 * Parses `X1,Y1 X2,Y2 LENGTH U`, U the standard uncertainty, all in the units shown.
 *
 * Fails: WRONG_CALL.
 */
export function parseKnown(text: string, units: 'mm' | 'in'): Outcome<KnownLength> {
  const refuse = (message: string) =>
    failed('WRONG_CALL', `--known: ${message}, found "${text}"`, {
      hint: `write both commanded points, the length and its standard uncertainty in ${units === 'mm' ? 'mm' : 'inch'}, such as --known ${units === 'mm' ? '"0,0 720,0 721.1 0.2"' : '"0,0 28,0 28.04 0.01"'}`,
    });
  const match = FORM.exec(text);
  if (match === null) return refuse('expected X1,Y1 X2,Y2 LENGTH U');
  const factor = units === 'mm' ? 1 : MM_PER_INCH;
  const [x1, y1, x2, y2, lengthMm, uMm] = match.slice(1).map((part) => Number(part) * factor) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  if (x1 === x2 && y1 === y2) return refuse('expected two different points');
  if (lengthMm <= 0) return refuse('expected a length above 0');
  if (uMm <= 0) return refuse('expected an uncertainty above 0');
  return success({ fromMm: [x1, y1], toMm: [x2, y2], lengthMm, uMm });
}
