/** A CSV file of the grid's points as other software found them in photos. */

import { type Outcome, success } from '../quantity/index.js';
import type { ImagePoint } from './place-image-points.js';
import { parseTable, readApproach, readTable, type TableForm } from './read-table.js';

/** Approach senses only where the file says them. */
export type StatedImagePoint = Omit<ImagePoint, 'approachX' | 'approachY'> &
  Partial<Pick<ImagePoint, 'approachX' | 'approachY'>>;

export interface ImagePointsFile {
  readonly name: string;
  readonly sha256: string;
  readonly points: readonly StatedImagePoint[];
}

type Column = 'photo' | 'x' | 'y' | 'u' | 'v' | 'sigma' | 'placement' | 'dx' | 'dy';

/** A thousandth of what the best software reaches: below it weights outgrow the arithmetic. */
const LEAST_SIGMA_PX = 0.00001;

const FORM: TableForm<Column, StatedImagePoint> = {
  code: 'IMAGE_POINTS_INVALID',
  what: 'file of image points',
  needed: ['photo', 'x', 'y', 'u', 'v', 'sigma'],
  optional: ['placement', 'dx', 'dy'],
  explanation: 'x, y commanded, u, v the pixel, sigma its standard uncertainty',
  hint: 'write a header photo,x,y,u,v,sigma (name of the photo, commanded x and y in mm, pixel u and v counted from the centre of the first one, their standard uncertainty in px), then one point per line; with decimal commas separate the columns by semicolons',
  readRow(row) {
    const photo = row.text('photo');
    if (photo === '') row.complain('photo', 'the name of a photo');
    const [xMm, yMm] = (['x', 'y'] as const).map((column) => row.number(column, 'a number in mm'));
    const [uPx, vPx] = (['u', 'v'] as const).map((column) => row.number(column, 'a number in px'));
    const sigmaPx = row.number(
      'sigma',
      `a standard uncertainty in px, above ${LEAST_SIGMA_PX}`,
      LEAST_SIGMA_PX,
    );
    const [approachX, approachY] = [readApproach(row, 'dx'), readApproach(row, 'dy')];
    const placement = row.text('placement');
    if (placement !== '' && row.number('placement', 'a whole number from 1', 0) !== 1) {
      row.complain('placement', '1: several positions of the board are not read yet');
    }
    return {
      sourceLine: row.line,
      photo,
      xMm,
      yMm,
      uPx,
      vPx,
      sigmaPx,
      ...(approachX === undefined ? {} : { approachX }),
      ...(approachY === undefined ? {} : { approachY }),
    };
  },
  problemsOf(points) {
    if (points.length === 0) return ['expected points, found a header alone'];
    return listTwins(points);
  },
};

/** Fails: FILE_MISSING; FILE_UNREADABLE; IMAGE_POINTS_INVALID with line, column, what was expected and what was found. */
export async function readImagePoints(path: string): Promise<Outcome<ImagePointsFile>> {
  const table = await readTable(path, FORM);
  if (!table.ok) return table;
  const { name, sha256, rows } = table.value;
  return success({ name, sha256, points: rows });
}

/** The same from text. Fails: IMAGE_POINTS_INVALID. */
export function parseImagePoints(
  text: string,
  where = 'file of image points',
): Outcome<StatedImagePoint[]> {
  return parseTable(text, where, FORM);
}

/** Copied rows would count twice. A point may be measured again: then its pixel differs. */
function listTwins(points: readonly StatedImagePoint[]): string[] {
  const first = new Map<string, number>();
  return points.flatMap(({ sourceLine, photo, xMm, yMm, uPx, vPx }) => {
    const key = JSON.stringify([photo, xMm, yMm, uPx, vPx]);
    const before = first.get(key);
    if (before !== undefined) return [`line ${sourceLine}: the same point as on line ${before}`];
    first.set(key, sourceLine);
    return [];
  });
}
