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

/** More is not said of a damaged file: whoever wrote it by hand needs the first problems only. */
const MOST_PROBLEMS = 5;

/** Fails: with the kind's code, naming each problem and its place. */
export function parseRecord<T>(text: string, where: string, kind: RecordKind<T>): Outcome<T> {
  const refuse = (problems: readonly string[]) =>
    failed(kind.code, [kind.complaint, ...problems].join('\n  '), { where, hint: kind.hint });
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    return refuse(['it is no JSON']);
  }
  const id = (data as { schema?: unknown } | null)?.schema;
  if (id !== kind.id) {
    return refuse([`schema: expected "${kind.id}", found ${JSON.stringify(id)}`]);
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
