/** A table as spreadsheets save it: a header that names the columns, then one row per line. */

import { createHash } from 'node:crypto';
import { basename } from 'node:path';
import type { Approach } from '../../shared/stroke.js';
import { readLimited } from '../imaging/index.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { decodeText } from './decode-text.js';

/** What a table has to hold. */
export interface TableForm<Column extends string, Row> {
  readonly code: 'POINTS_INVALID' | 'IMAGE_POINTS_INVALID';
  /** What the file is called. */
  readonly what: string;
  readonly needed: readonly Column[];
  readonly optional: readonly Column[];
  /** Said where needed columns are missing. */
  readonly explanation: string;
  readonly hint: string;
  /** What it complains of is reported; then its value is passed over. */
  readonly readRow: (row: TableRow<Column>) => Row;
  /** What is wrong with the rows as a whole. */
  readonly problemsOf: (rows: readonly Row[]) => readonly string[];
}

/** One row; a wrong cell is complained of with what was expected. */
export interface TableRow<Column extends string> {
  /** Line of the file, from 1. */
  readonly line: number;
  /** Empty where the table has no such column. */
  text(column: Column): string;
  /** @param above the value must be greater. NaN after a complaint. */
  number(column: Column, wanted: string, above?: number): number;
  complain(column: Column, wanted: string): void;
}

export interface Table<Row> {
  readonly name: string;
  readonly sha256: string;
  readonly rows: readonly Row[];
}

/** Tens of thousands of rows are many; beyond this it is another kind of file. */
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

/** Fails: FILE_MISSING; FILE_UNREADABLE; as `parseTable`. */
export async function readTable<Column extends string, Row>(
  path: string,
  form: TableForm<Column, Row>,
): Promise<Outcome<Table<Row>>> {
  let bytes: Buffer | undefined;
  try {
    bytes = await readLimited(path, MOST_BYTES);
  } catch (cause) {
    return failedRead(cause, path, { what: form.what });
  }
  const text = bytes === undefined ? undefined : decodeText(bytes);
  if (bytes === undefined || text === undefined || text.includes('\0')) {
    return failed(form.code, `this is no ${form.what}: expected lines of text`, {
      where: path,
      hint: 'save the table as CSV',
    });
  }
  const rows = parseTable(text, path, form);
  if (!rows.ok) return rows;
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  return success({ name: basename(path), sha256, rows: rows.value });
}

/**
 * The same from text. Columns are separated by semicolons, tabs or commas, whichever the header has; empty
 * lines and lines that begin with # are passed over.
 *
 * Fails: the form's code, with line, column, what was expected and what was found.
 */
export function parseTable<Column extends string, Row>(
  text: string,
  where: string,
  form: TableForm<Column, Row>,
): Outcome<Row[]> {
  const lines = text
    .replace(/^\ufeff/, '')
    .split(/\r\n|\n|\r/)
    .map((content, i) => ({ content, number: i + 1 }))
    .filter(({ content }) => content.trim() !== '' && !content.trimStart().startsWith('#'));
  const refuse = (problems: readonly string[]) =>
    failed(form.code, `the ${form.what} cannot be used\n  ${shorten(problems)}`, {
      where,
      hint: form.hint,
      figures: { problems: problems.length },
    });
  const [head, ...body] = lines;
  if (head === undefined) return refuse(['line 1: expected a header, found an empty file']);
  const separator = [';', '\t'].find((one) => head.content.includes(one)) ?? ',';
  const columns = cellsOf(head.content, separator);
  const wrong = problemOfHeader(columns, form);
  if (wrong !== undefined) return refuse([`line ${head.number}: ${wrong}`]);
  const problems: string[] = [];
  const rows: Row[] = [];
  for (const { content, number } of body) {
    const cells = cellsOf(content, separator);
    const before = problems.length;
    const count = problemOfCount(cells, columns, separator);
    if (count !== undefined) {
      problems.push(`line ${number}: ${count}`);
      continue;
    }
    const row = form.readRow(makeRow(cells, columns, number, separator, problems));
    if (problems.length === before) rows.push(row);
  }
  if (problems.length > 0) return refuse(problems);
  const further = form.problemsOf(rows);
  return further.length > 0 ? refuse(further) : success(rows);
}

/** The sense of the last motion before a mark; undefined where the cell is empty. */
export function readApproach<Column extends string>(
  row: TableRow<Column>,
  column: Column,
): Approach | undefined {
  const text = withPlainMinus(row.text(column));
  if (text === '') return undefined;
  const value = APPROACHES[text];
  if (value === undefined) row.complain(column, '1, -1 or 0');
  return value;
}

/** Separators within quotes belong to the cell (RFC 4180). */
function cellsOf(line: string, separator: string): string[] {
  const cells = [''];
  let isQuoted = false;
  for (const character of line) {
    if (character === '"') isQuoted = !isQuoted;
    if (character === separator && !isQuoted) cells.push('');
    else cells[cells.length - 1] += character;
  }
  return cells.map((cell) =>
    cell
      .trim()
      .replace(/^"(.*)"$/, '$1')
      .replaceAll('""', '"'),
  );
}

function problemOfHeader<Column extends string, Row>(
  names: readonly string[],
  { needed, optional, explanation }: TableForm<Column, Row>,
): string | undefined {
  if (names.some((name) => toNumber(name, ';') !== undefined)) {
    return `the header is missing: expected ${needed.join(',')}, found numbers`;
  }
  const all: readonly string[] = [...needed, ...optional];
  const lost = needed.filter((name) => !names.includes(name));
  if (lost.length > 0) {
    return `expected the columns ${needed.join(', ')} (${explanation}), found ${names.join(', ')}: ${lost.join(', ')} ${lost.length === 1 ? 'is' : 'are'} missing`;
  }
  const strange = names.find((name) => !all.includes(name));
  if (strange !== undefined) return `unknown column "${strange}": expected ${all.join(', ')}`;
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  return twice === undefined ? undefined : `the column ${twice} stands there twice`;
}

function problemOfCount(
  cells: readonly string[],
  columns: readonly string[],
  separator: string,
): string | undefined {
  if (cells.length === columns.length) return undefined;
  const comma =
    separator === ',' && cells.length > columns.length
      ? ' (decimal commas? then separate the columns by semicolons)'
      : '';
  return `expected ${columns.length} columns, found ${cells.length}${comma}`;
}

function makeRow<Column extends string>(
  cells: readonly string[],
  columns: readonly string[],
  line: number,
  separator: string,
  problems: string[],
): TableRow<Column> {
  const text = (column: Column) => cells[columns.indexOf(column)] ?? '';
  const complain = (column: Column, wanted: string) => {
    const found = text(column);
    problems.push(
      `line ${line}, column ${column}: expected ${wanted}, found ${found === '' ? 'nothing' : `"${found}"`}`,
    );
  };
  return {
    line,
    text,
    complain,
    number(column, wanted, above = Number.NEGATIVE_INFINITY) {
      const value = toNumber(text(column), separator);
      if (value !== undefined && value > above) return value;
      complain(column, wanted);
      return Number.NaN;
    },
  };
}

function toNumber(cell: string, separator: string): number | undefined {
  const plain = withPlainMinus(cell);
  const text = separator === ',' ? plain : plain.replace(',', '.');
  const value = NUMBER.test(text) ? Number(text) : Number.NaN;
  return Number.isFinite(value) ? value : undefined;
}

/** Typeset minus signs come with copied tables. */
function withPlainMinus(cell: string): string {
  return cell.replace('−', '-');
}

function shorten(problems: readonly string[]): string {
  const more = problems.length - MOST_PROBLEMS;
  return [...problems.slice(0, MOST_PROBLEMS), ...(more > 0 ? [`and ${more} more`] : [])].join(
    '\n  ',
  );
}
