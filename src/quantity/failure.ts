/** Expected trouble: what is wrong, where, and what to do about it. */

import type { FailureCode } from '../../shared/failure-codes.js';

export interface FailureDetails {
  /** The file, option or place concerned. */
  readonly where?: string;
  /** What the user can do. */
  readonly hint?: string;
  /** Figures with their unit in the key: `{ widthPx: 120 }`. */
  readonly figures?: Readonly<Record<string, number | string>>;
  readonly cause?: unknown;
}

/** The one failure class. Returned, not thrown, where the trouble is to be expected. */
export class Failure extends Error {
  override readonly name = 'Failure';
  readonly code: FailureCode;
  readonly where: string | undefined;
  readonly hint: string | undefined;
  readonly figures: Readonly<Record<string, number | string>>;

  constructor(code: FailureCode, message: string, details: FailureDetails = {}) {
    super(message, details.cause === undefined ? undefined : { cause: details.cause });
    this.code = code;
    this.where = details.where;
    this.hint = details.hint;
    this.figures = details.figures ?? {};
  }
}

export type Outcome<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly failure: Failure };

export function success<T>(value: T): Outcome<T> {
  return { ok: true, value };
}

export function failed(
  code: FailureCode,
  message: string,
  details: FailureDetails = {},
): { readonly ok: false; readonly failure: Failure } {
  return { ok: false, failure: new Failure(code, message, details) };
}

/** The value of an outcome; throws its failure. For places that have one handler at the top. */
export function unwrap<T>(outcome: Outcome<T>): T {
  if (!outcome.ok) throw outcome.failure;
  return outcome.value;
}
