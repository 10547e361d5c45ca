/** Which of the history's machines a command is about. */

import {
  failed,
  type History,
  listMachines,
  type Outcome,
  plainText,
  success,
} from '../src/index.js';

/**
 * The one named, else the only one there is.
 *
 * @returns undefined where there is none at all.
 * Fails: ENTRY_MISSING; WRONG_CALL.
 */
export function chooseMachine(
  history: History,
  stated: string | undefined,
): Outcome<string | undefined> {
  const names = listMachines(history);
  const known = names.map(plainText).join(', ') || 'none yet';
  if (stated !== undefined) {
    if (names.includes(stated)) return success(stated);
    return failed('ENTRY_MISSING', `the history knows no machine “${plainText(stated)}”`, {
      where: history.path,
      hint: `it knows ${known}`,
    });
  }
  if (names.length <= 1) return success(names[0]);
  return failed('WRONG_CALL', 'the history has several machines: which one?', {
    where: history.path,
    hint: `say --machine-name; it knows ${known}`,
  });
}
