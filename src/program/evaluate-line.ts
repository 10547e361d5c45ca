/** Puts numbers for the expressions of a line and carries out its parameter settings. */

import { type Outcome, success } from '../quantity/index.js';
import { evaluateExpression, settleTarget, type Target } from './evaluate-expression.js';
import type { Parameters } from './parameters.js';
import type { ScannedLine, Word } from './scan-line.js';

/**
 * The words of a line, in the order of the line. Settings take effect when all values of the line
 * are known: none of them sees another.
 *
 * Fails: PROGRAM_INVALID, with line and column.
 * Source: NISTIR 6556, section 3.3.3.
 */
export function evaluateLine(
  name: string,
  scanned: ScannedLine,
  parameters: Parameters,
): Outcome<readonly Word[]> {
  const { line, words, computed, settings } = scanned;
  if (computed.length === 0 && settings.length === 0) return success(words);

  const all = [...words];
  for (const { letter, expression, column } of computed) {
    const value = evaluateExpression({ name, line, column }, expression, parameters);
    if (!value.ok) return value;
    all.push({ letter, value: value.value, column });
  }
  const settled: [Target, number][] = [];
  for (const { parameter, value: expression, column } of settings) {
    const target = settleTarget({ name, line, column }, parameter, parameters);
    if (!target.ok) return target;
    const value = evaluateExpression({ name, line, column }, expression, parameters);
    if (!value.ok) return value;
    settled.push([target.value, value.value]);
  }
  for (const [target, value] of settled) {
    if ('index' in target) parameters.setNumbered(target.index, value);
    else parameters.setNamed(target.name, value);
  }
  return success(all.sort((one, other) => one.column - other.column));
}
