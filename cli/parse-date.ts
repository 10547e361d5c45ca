/** The day of `--date`. */

import { failed, type Outcome, readDay, success } from '../src/index.js';

/** A clock may be a little wrong; a date beyond is a slip of the pen. */
const FUTURE_MS = 86_400_000;

/** Fails: WRONG_CALL. */
export function parseDate(
  text: string | undefined,
  now: Date,
  option = '--date',
): Outcome<Date | undefined> {
  if (text === undefined) return success(undefined);
  const date = readDay(text);
  if (date === undefined) {
    return failed(
      'WRONG_CALL',
      `${option}: expected a day such as 2026-11-20, or 2026-11-20 14:30, found “${text}”`,
    );
  }
  if (date.getTime() > now.getTime() + FUTURE_MS) {
    return failed('WRONG_CALL', `${option}: ${text} has not come yet`);
  }
  return success(date);
}
