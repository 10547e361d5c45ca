/** A YAML file of ours → checked data, or every problem with its line. */

import { type Document, isNode, LineCounter, parseDocument, visit } from 'yaml';
import { z } from 'zod';
import type { FailureCode } from '../../shared/failure-codes.js';
import { readLimited } from '../imaging/index.js';
import { failed, failedRead, type Outcome, success } from '../quantity/index.js';
import { decodeText } from './decode-text.js';

/** A file of some hundred entries is large; anything beyond is another kind of file. */
const MOST_BYTES = 1_000_000;
/** Enough for whoever mends the file; a file of another kind has thousands. */
const MOST_PROBLEMS = 20;
/** No number with its unit is longer. */
const LONGEST_NUMBER = 40;

export interface YamlKind<T> {
  readonly schema: z.ZodType<T>;
  readonly code: FailureCode;
  /** What a reader calls it: 'machine file'. */
  readonly name: string;
  /** Where the text needs mending before YAML sees it; lines must stay where they are. */
  readonly prepare?: (text: string) => string;
}

/**
 * Reads, parses and checks. The failure's message has one line per problem: line number, key,
 * what was expected, what was found.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; the kind's own code.
 */
export async function readYamlFile<T>(path: string, kind: YamlKind<T>): Promise<Outcome<T>> {
  const text = await readText(path, kind);
  return text.ok ? parseYaml(text.value, path, kind) : text;
}

/** The same from text; `where` names it in failures. */
export function parseYaml<T>(text: string, where: string, kind: YamlKind<T>): Outcome<T> {
  try {
    return parseShallow(text, where, kind);
  } catch (cause) {
    // Hundreds of levels are none of ours: the parser goes down one call for each.
    if (!(cause instanceof RangeError)) throw cause;
    return failed(kind.code, `the ${kind.name} cannot be used\n  it is nested too deeply`, {
      where,
      hint: 'look for a slip in the name',
      cause,
    });
  }
}

function parseShallow<T>(text: string, where: string, kind: YamlKind<T>): Outcome<T> {
  const lines = new LineCounter();
  const document = parseDocument(kind.prepare?.(text) ?? text, {
    lineCounter: lines,
    prettyErrors: false,
    // Its warnings would go straight to the terminal, with the file's own words in them.
    logLevel: 'error',
  });
  const refuse = (problems: readonly string[]) =>
    failed(kind.code, `the ${kind.name} cannot be used\n  ${listFirst(problems)}`, {
      where,
      hint: `correct ${problems.length === 1 ? 'this line' : 'these lines'}; keys and units are described in the README`,
      figures: { problems: problems.length },
    });
  if (document.errors.length > 0) {
    return refuse(
      document.errors.map((error) => {
        const { line } = lines.linePos(error.pos[0]);
        const isDeep = /call stack/i.test(error.message);
        return `line ${line}: no valid YAML: ${isDeep ? 'nested too deeply' : lowerFirst(error.message)}`;
      }),
    );
  }
  const alias = findAlias(document);
  if (alias !== undefined) {
    const { line } = lines.linePos(alias);
    return refuse([`line ${line}: expected a value, found a reference to another one (*name)`]);
  }
  const data: unknown = document.toJS();
  if (data === null || data === undefined) return refuse(['line 1: the file is empty']);
  const checked = kind.schema.safeParse(data);
  if (checked.success) return success(checked.data);
  const told = new Set<string>();
  return refuse(
    checked.error.issues.flatMap((issue) => {
      const problems = describeIssue(issue, document, lines, data);
      const last = problems.pop() ?? '';
      return [...problems, `${last}${knownInstead(issue, kind.schema, told)}`];
    }),
  );
}

async function readText<T>(path: string, { code, name }: YamlKind<T>): Promise<Outcome<string>> {
  let bytes: Buffer | undefined;
  try {
    bytes = await readLimited(path, MOST_BYTES);
  } catch (cause) {
    return failedRead(cause, path, { what: name });
  }
  const text = bytes === undefined ? undefined : decodeText(bytes);
  if (text === undefined || text.includes('\0')) {
    return failed(code, `this is no ${name}: expected some lines of YAML text`, {
      where: path,
      hint: 'look for a slip in the name',
    });
  }
  return success(text);
}

/**
 * Nobody needs references in files this small, and they can multiply to more than any memory, or contain
 * themselves. The place of the first one.
 */
function findAlias(document: Document.Parsed): number | undefined {
  let found: number | undefined;
  visit(document, {
    Alias(_, { range }) {
      found = range?.[0] ?? 0;
      return visit.BREAK;
    },
  });
  return found;
}

type Issue = z.core.$ZodIssue;

function describeIssue(
  issue: Issue,
  document: Document.Parsed,
  lines: LineCounter,
  data: unknown,
): string[] {
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => {
      const path = [...issue.path, key];
      return `${lineOf(path, document, lines)}${pathText(path)}: unknown key`;
    });
  }
  const found = valueAt(data, issue.path);
  return [
    `${lineOf(issue.path, document, lines)}${pathText(issue.path)}: expected ${expected(issue)}, found ${shown(found)}${unitHint(found)}`,
  ];
}

/** After unknown keys: those that their group may have, once for all groups of a kind. */
function knownInstead(issue: Issue, schema: z.ZodType, told: Set<string>): string {
  if (issue.code !== 'unrecognized_keys') return '';
  const known = keysAt(schema, issue.path).join(', ');
  if (known === '' || told.has(known)) return '';
  told.add(known);
  return `\n    known there: ${known}`;
}

/** The keys that a group may have; none where the schema tells no one group. */
function keysAt(schema: z.ZodType, path: readonly PropertyKey[]): string[] {
  const inner = schema instanceof z.ZodOptional ? schema.unwrap() : schema;
  const [key, ...rest] = path;
  if (inner instanceof z.ZodArray) return keysAt(inner.element as z.ZodType, rest);
  if (!(inner instanceof z.ZodObject)) return [];
  if (key === undefined) return Object.keys(inner.shape);
  const next = inner.shape[String(key)];
  return next === undefined ? [] : keysAt(next, rest);
}

function expected(issue: Issue): string {
  switch (issue.code) {
    case 'invalid_type':
      return issue.expected === 'tuple' || issue.expected === 'array'
        ? 'a list'
        : issue.expected === 'object'
          ? 'a group of keys'
          : `a ${issue.expected}`;
    case 'invalid_value':
      return issue.values.map((value) => JSON.stringify(value)).join(' or ');
    case 'too_small':
      return issue.origin === 'number'
        ? `a number ${issue.inclusive ? 'of at least' : 'above'} ${issue.minimum}`
        : `at least ${issue.minimum} entries`;
    case 'too_big':
      return issue.origin === 'number'
        ? `a number of at most ${issue.maximum}`
        : `at most ${issue.maximum} entries`;
    case 'invalid_union': {
      // Of alternatives that one key tells apart, that key's own values.
      const values =
        'options' in issue && Array.isArray(issue.options)
          ? issue.options
          : issue.errors.flat().flatMap((one) => ('values' in one ? one.values : []));
      return values.length > 0
        ? values.map((value) => JSON.stringify(value)).join(' or ')
        : 'another value';
    }
    default:
      return lowerFirst(issue.message);
  }
}

function listFirst(problems: readonly string[]): string {
  const more = problems.length - MOST_PROBLEMS;
  return [...problems.slice(0, MOST_PROBLEMS), ...(more > 0 ? [`and ${more} more`] : [])].join(
    '\n  ',
  );
}

/** A number with its unit is the usual slip. */
function unitHint(found: unknown): string {
  const unit =
    typeof found === 'string' && found.length <= LONGEST_NUMBER
      ? /^[\d.,\s+-]+\s*([a-z°"%/]+)$/i.exec(found)?.[1]
      : undefined;
  return unit === undefined ? '' : ` (write the number alone, without ${unit})`;
}

function shown(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (value === null) return 'an empty value';
  const text = JSON.stringify(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

function valueAt(data: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>(
    (value, key) =>
      typeof value === 'object' && value !== null
        ? (value as Record<PropertyKey, unknown>)[key]
        : undefined,
    data,
  );
}

/** `lengths[1].from`, counting list entries from 1 as people do. */
function pathText(path: readonly PropertyKey[]): string {
  if (path.length === 0) return 'the file';
  return path
    .map((key, i) =>
      typeof key === 'number' ? ` entry ${key + 1}` : `${i === 0 ? '' : '.'}${String(key)}`,
    )
    .join('')
    .replace(/^\./, '')
    .replaceAll(/( entry \d+)\./g, '$1, ');
}

/** The line of the deepest part of the path that exists. */
function lineOf(
  path: readonly PropertyKey[],
  document: Document.Parsed,
  lines: LineCounter,
): string {
  for (let depth = path.length; depth > 0; depth -= 1) {
    const node = document.getIn(path.slice(0, depth), true);
    if (isNode(node) && node.range) return `line ${lines.linePos(node.range[0]).line}: `;
  }
  return '';
}

function lowerFirst(text: string): string {
  return text.slice(0, 1).toLowerCase() + text.slice(1);
}
