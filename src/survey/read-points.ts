/** A CSV file of nodes whose places were measured on the board itself: by calipers, a probe, a measuring machine. */

import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import type { Approach } from '../../shared/stroke.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';

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

const NEEDED = ['x', 'y', 'X', 'Y', 'u'] as const;
const OPTIONAL = ['placement', 'dx', 'dy'] as const;
type Column = (typeof NEEDED)[number] | (typeof OPTIONAL)[number];

/** A thousand nodes are many; beyond this it is another kind of file. */
const MOST_BYTES = 5_000_000;
const MOST_PROBLEMS = 10;
const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?$/i;
const APPROACHES: Readonly<Record<string, Approach>> = {
  '0': 0,
  '1': 1,
  '+1': 1,
  '+': 1,
  '-1': -1,
  '-': -1,
};
const HINT =
  'write a header x,y,X,Y,u (commanded x and y, measured X and Y, standard uncertainty u, all in mm), then one node per line; with decimal commas separate the columns by semicolons';

/** Fails: FILE_MISSING; FILE_UNREADABLE; POINTS_INVALID with line, column, what was expected and what was found. */
export async function readPoints(path: string): Promise<Outcome<PointsFile>> {
  let bytes: Buffer;
  try {
    bytes = await readFile(path);
  } catch (cause) {
    return failedRead(cause, path, { what: 'points file' });
  }
  if (bytes.length > MOST_BYTES || bytes.includes(0)) {
    return failed('POINTS_INVALID', 'this is no points file: expected lines of text', {
      where: path,
      hint: 'save the table as CSV, in UTF-8',
    });
  }
  const nodes = parsePoints(bytes.toString('utf8'), path);
  if (!nodes.ok) return nodes;
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  return success({ name: basename(path), sha256, nodes: nodes.value });
}

/** The same from text; empty lines and lines that begin with # are passed over. Fails: POINTS_INVALID. */
export function parsePoints(text: string, where = 'points file'): Outcome<MeasuredNode[]> {
  const lines = text
    .replace(/^\ufeff/, '')
    .split(/\r\n|\n|\r/)
    .map((content, i) => ({ content, number: i + 1 }))
    .filter(({ content }) => content.trim() !== '' && !content.trimStart().startsWith('#'));
  const refuse = (problems: readonly string[]) =>
    failed('POINTS_INVALID', `the points file cannot be used\n  ${shorten(problems)}`, {
      where,
      hint: HINT,
      figures: { problems: problems.length },
    });
  const [head, ...body] = lines;
  if (head === undefined) return refuse(['line 1: expected a header, found an empty file']);
  const separator = [';', '\t'].find((one) => head.content.includes(one)) ?? ',';
  const header = readHeader(cells(head.content, separator), head.number);
  if (!header.ok) return refuse(header.problems);
  const problems: string[] = [];
  const nodes: MeasuredNode[] = [];
  for (const { content, number } of body) {
    const read = readNode(cells(content, separator), header.columns, number, separator);
    if (read.ok) nodes.push(read.node);
    else problems.push(...read.problems);
  }
  if (problems.length > 0) return refuse(problems);
  const spread = (coordinate: 'xMm' | 'yMm') => new Set(nodes.map((one) => one[coordinate])).size;
  if (nodes.length < 4 || spread('xMm') < 2 || spread('yMm') < 2) {
    return refuse([
      `expected at least 4 nodes at two or more places along X and along Y, found ${nodes.length} at ${spread('xMm')} and ${spread('yMm')}`,
    ]);
  }
  return success(nodes);
}

function cells(line: string, separator: string): string[] {
  return line.split(separator).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'));
}

type Header =
  | { readonly ok: true; readonly columns: readonly Column[] }
  | { readonly ok: false; readonly problems: readonly string[] };

function readHeader(names: readonly string[], line: number): Header {
  const refuse = (problem: string): Header => ({
    ok: false,
    problems: [`line ${line}: ${problem}`],
  });
  if (names.every((name) => name === '' || toNumber(name, ';') !== undefined)) {
    return refuse('the header is missing: expected x,y,X,Y,u, found numbers');
  }
  const all: readonly string[] = [...NEEDED, ...OPTIONAL];
  const lost = NEEDED.filter((name) => !names.includes(name));
  if (lost.length > 0) {
    return refuse(
      `expected the columns ${NEEDED.join(', ')} (small x, y commanded, capital X, Y measured), found ${names.join(', ')}: ${lost.join(', ')} ${lost.length === 1 ? 'is' : 'are'} missing`,
    );
  }
  const strange = names.find((name) => !all.includes(name));
  if (strange !== undefined) {
    return refuse(`unknown column "${strange}": expected ${all.join(', ')}`);
  }
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice !== undefined) return refuse(`the column ${twice} stands there twice`);
  return { ok: true, columns: names as readonly Column[] };
}

type Row =
  | { readonly ok: true; readonly node: MeasuredNode }
  | { readonly ok: false; readonly problems: readonly string[] };

function readNode(
  row: readonly string[],
  columns: readonly Column[],
  line: number,
  separator: string,
): Row {
  if (row.length !== columns.length) {
    const comma =
      separator === ',' && row.length > columns.length
        ? ' (decimal commas? then separate the columns by semicolons)'
        : '';
    return {
      ok: false,
      problems: [`line ${line}: expected ${columns.length} columns, found ${row.length}${comma}`],
    };
  }
  const problems: string[] = [];
  const cellOf = (column: Column) => row[columns.indexOf(column)] ?? '';
  const complain = (column: Column, wanted: string) => {
    const found = cellOf(column);
    problems.push(
      `line ${line}, column ${column}: expected ${wanted}, found ${found === '' ? 'nothing' : `"${found}"`}`,
    );
    return Number.NaN;
  };
  const number = (column: Column, wanted = 'a number in mm', least = Number.NEGATIVE_INFINITY) => {
    const value = toNumber(cellOf(column), separator);
    return value !== undefined && value > least ? value : complain(column, wanted);
  };
  const approach = (column: 'dx' | 'dy') => {
    const text = cellOf(column).replace('−', '-');
    if (text === '') return undefined;
    const value = APPROACHES[text];
    if (value === undefined) complain(column, '1, -1 or 0');
    return value;
  };
  const [x, y, X, Y] = (['x', 'y', 'X', 'Y'] as const).map((column) => number(column));
  const u = number('u', 'a standard uncertainty in mm, above 0', 0);
  const [approachX, approachY] = [approach('dx'), approach('dy')];
  const placement = cellOf('placement') === '' ? 1 : toNumber(cellOf('placement'), separator);
  if (placement === undefined || !Number.isInteger(placement) || placement < 1) {
    complain('placement', 'a whole number from 1');
  }
  if (problems.length > 0) return { ok: false, problems };
  return {
    ok: true,
    node: {
      sourceLine: line,
      xMm: x,
      yMm: y,
      measuredMm: [X, Y],
      uMm: u,
      placement: placement as number,
      ...(approachX === undefined ? {} : { approachX }),
      ...(approachY === undefined ? {} : { approachY }),
    },
  };
}

function toNumber(cell: string, separator: string): number | undefined {
  const plain = cell.replace('−', '-');
  const text = separator === ',' ? plain : plain.replace(',', '.');
  return NUMBER.test(text) ? Number(text) : undefined;
}

function shorten(problems: readonly string[]): string {
  const more = problems.length - MOST_PROBLEMS;
  return [...problems.slice(0, MOST_PROBLEMS), ...(more > 0 ? [`and ${more} more`] : [])].join(
    '\n  ',
  );
}
