/** JSON that this tool wrote → the record, checked against its schema. */

import type { z } from 'zod';
import type { FailureCode } from '../../shared/failure-codes.js';
import { failed, type Outcome, success } from '../quantity/index.js';

export interface RecordKind<T> {
  /** What stands under `schema` in the file. */
  readonly id: string;
  readonly schema: z.ZodType<T>;
  readonly code: FailureCode;
  /** What the file turned out not to be: `this is no …`. */
  readonly complaint: string;
  readonly hint: string;
}

/** Far above what a photo of a hundred leaves: beyond this it is another kind of file. */
export const MOST_RECORD_BYTES = 100_000_000;
/** More is not said of a damaged file: whoever wrote it by hand needs the first problems only. */
const MOST_PROBLEMS = 5;

/**
 * @param text undefined where there was more than {@link MOST_RECORD_BYTES}.
 *
 * Fails: with the kind's code, naming each problem and its place.
 */
export function parseRecord<T>(
  text: string | undefined,
  where: string,
  kind: RecordKind<T>,
): Outcome<T> {
  const refuse = (problems: readonly string[]) =>
    failed(kind.code, [kind.complaint, ...problems].join('\n  '), { where, hint: kind.hint });
  if (text === undefined) return refuse([`it is larger than ${MOST_RECORD_BYTES / 1e6} MB`]);
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    return refuse(['it is no JSON']);
  }
  const id = (data as { schema?: unknown } | null)?.schema;
  if (id !== kind.id) {
    return refuse([`schema: expected "${kind.id}", found ${shown(id)}`]);
  }
  const checked = kind.schema.safeParse(data);
  if (checked.success) return success(checked.data);
  const { issues } = checked.error;
  const rest = issues.length - MOST_PROBLEMS;
  return refuse([
    ...issues.slice(0, MOST_PROBLEMS).map(({ path: at, message }) => `${at.join('.')}: ${message}`),
    ...(rest > 0 ? [`and ${rest} more`] : []),
  ]);
}

/** A value may be long or deep: a name is all that was expected. */
function shown(value: unknown): string {
  if (typeof value === 'object' && value !== null)
    return Array.isArray(value) ? 'a list' : 'a group';
  const text = String(JSON.stringify(value));
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}
