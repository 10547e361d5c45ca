/** A CSV file of nodes whose places were measured on the board itself: by calipers, a probe, a measuring machine. */

import type { Approach } from '../../shared/stroke.js';
import { type Outcome, success } from '../quantity/index.js';
import { parseTable, readApproach, readTable, type TableForm } from './read-table.js';

export interface MeasuredNode {
  /** Line of the file, from 1. */
  readonly sourceLine: number;
  /** Commanded, mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Measured, mm, in the frame of whatever measured it. */
  readonly measuredMm: readonly [x: number, y: number];
  /** Standard uncertainty of each measured coordinate, mm. */
  readonly uMm: number;
  /** Which position of the board, from 1. */
  readonly placement: number;
  /** Sense of the last motion before the mark, where the file says it. */
  readonly approachX?: Approach;
  readonly approachY?: Approach;
}

export interface PointsFile {
  readonly name: string;
  readonly sha256: string;
  readonly nodes: readonly MeasuredNode[];
}

type Column = 'x' | 'y' | 'X' | 'Y' | 'u' | 'placement' | 'dx' | 'dy';

/** A nanometre, which no instrument knows of a board: below it weights outgrow the arithmetic. */
const LEAST_U_MM = 0.000_001;

const FORM: TableForm<Column, MeasuredNode> = {
  code: 'POINTS_INVALID',
  what: 'points file',
  needed: ['x', 'y', 'X', 'Y', 'u'],
  optional: ['placement', 'dx', 'dy'],
  explanation: 'small x, y commanded, capital X, Y measured',
  hint: 'write a header x,y,X,Y,u (commanded x and y, measured X and Y, standard uncertainty u, all in mm), then one node per line; with decimal commas separate the columns by semicolons',
  readRow(row) {
    const [x, y, X, Y] = (['x', 'y', 'X', 'Y'] as const).map((column) =>
      row.number(column, 'a number in mm'),
    );
    const uMm = row.number('u', `a standard uncertainty in mm, above ${LEAST_U_MM}`, LEAST_U_MM);
    const [approachX, approachY] = [readApproach(row, 'dx'), readApproach(row, 'dy')];
    const wanted = 'a whole number from 1';
    const placement = row.text('placement') === '' ? 1 : row.number('placement', wanted, 0);
    if (placement % 1 !== 0 && !Number.isNaN(placement)) row.complain('placement', wanted);
    return {
      sourceLine: row.line,
      xMm: x,
      yMm: y,
      measuredMm: [X, Y],
      uMm,
      placement,
      ...(approachX === undefined ? {} : { approachX }),
      ...(approachY === undefined ? {} : { approachY }),
    };
  },
  problemsOf(nodes) {
    const spread = (coordinate: 'xMm' | 'yMm') => new Set(nodes.map((one) => one[coordinate])).size;
    if (nodes.length >= 4 && spread('xMm') >= 2 && spread('yMm') >= 2) return [];
    return [
      `expected at least 4 nodes at two or more places along X and along Y, found ${nodes.length} at ${spread('xMm')} and ${spread('yMm')}`,
    ];
  },
};

/** Fails: FILE_MISSING; FILE_UNREADABLE; POINTS_INVALID with line, column, what was expected and what was found. */
export async function readPoints(path: string): Promise<Outcome<PointsFile>> {
  const table = await readTable(path, FORM);
  if (!table.ok) return table;
  const { name, sha256, rows } = table.value;
  return success({ name, sha256, nodes: rows });
}

/** The same from text; empty lines and lines that begin with # are passed over. Fails: POINTS_INVALID. */
export function parsePoints(text: string, where = 'points file'): Outcome<MeasuredNode[]> {
  return parseTable(text, where, FORM);
}
