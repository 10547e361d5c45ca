/** Expression → number, with the parameters as they are now. */

import { type Outcome, success } from '../quantity/index.js';
import { invalidAt, type Place } from './cursor.js';
import { belongsToMachine, HIGHEST_PARAMETER, type Parameters } from './parameters.js';
import type { Expression, FunctionName, Operator, ParameterName } from './read-expression.js';

/** How far an index may lie from the whole number it means (NISTIR 6556, section 3.3.2.1). */
const NEAR_INTEGER = 1e-4;

/** Values this near are equal: a sum of steps rarely hits a bound exactly (from memory, no source). */
const NEAR_EQUAL = 1e-6;

const DEGREE = Math.PI / 180;

interface Trouble {
  readonly message: string;
  readonly hint: string;
  readonly column?: number;
}

/** A parameter that is set, settled to its number or name. */
export type Target = { readonly index: number } | { readonly name: string };

/** @param line where the expression stands. Fails: PROGRAM_INVALID, with line and column. */
export function evaluateExpression(
  place: Place,
  expression: Expression,
  parameters: Parameters,
): Outcome<number> {
  const evaluation = new Evaluation(parameters);
  const value = evaluation.value(expression);
  return evaluation.trouble === undefined ? success(value) : refuse(place, evaluation.trouble);
}

/** Which parameter a setting concerns. Fails: PROGRAM_INVALID, with line and column. */
export function settleTarget(
  place: Place,
  parameter: ParameterName,
  parameters: Parameters,
): Outcome<Target> {
  if (parameter.kind === 'named') return success({ name: parameter.name });
  const evaluation = new Evaluation(parameters);
  const index = evaluation.index(parameter);
  if (evaluation.trouble !== undefined) return refuse(place, evaluation.trouble);
  if (!belongsToMachine(index, 'set')) return success({ index });
  return refuse(place, {
    message: `a setting of parameter ${index} moves coordinates: it is not followed`,
    hint: 'write the positions of the marks out in plain coordinates',
    column: parameter.column,
  });
}

function refuse(place: Place, { message, hint, column }: Trouble): ReturnType<typeof invalidAt> {
  const { name, line } = place;
  return invalidAt(column === undefined ? place : { name, line, column }, message, hint);
}

/** The first trouble is kept; values behind it mean nothing. */
class Evaluation {
  readonly #parameters: Parameters;
  trouble: Trouble | undefined;

  constructor(parameters: Parameters) {
    this.#parameters = parameters;
  }

  value(expression: Expression): number {
    switch (expression.kind) {
      case 'number':
        return expression.value;
      case 'parameter':
      case 'named':
        return this.#read(expression);
      case 'exists':
        return truth(this.#parameters.named(expression.name) !== undefined);
      case 'negation':
        return -this.value(expression.of);
      case 'atan':
        return Math.atan2(this.value(expression.y), this.value(expression.x)) / DEGREE;
      case 'function': {
        const argument = this.value(expression.argument);
        const result = callFunction(expression.name, argument);
        return this.#checked(result, expression.column, () => {
          return `${expression.name.toUpperCase()}[${argument}] is no number`;
        });
      }
      case 'chain': {
        let left = this.value(expression.first);
        for (const { operator, operand, column } of expression.rest) {
          const right = this.value(operand);
          const result = operate(operator, left, right);
          const message = () => `${left} ${operator.toUpperCase()} ${right} is no number`;
          left = this.#checked(result, column, message);
        }
        return left;
      }
    }
  }

  index(parameter: Extract<ParameterName, { kind: 'parameter' }>): number {
    const value = this.value(parameter.index);
    const index = Math.round(value);
    if (Math.abs(value - index) > NEAR_INTEGER || index < 1 || index > HIGHEST_PARAMETER) {
      this.trouble ??= {
        message: `there is no parameter ${value}`,
        hint: `expected a whole number from 1 to ${HIGHEST_PARAMETER}`,
        column: parameter.column,
      };
    }
    return index;
  }

  #read(parameter: ParameterName): number {
    const index = parameter.kind === 'parameter' ? this.index(parameter) : undefined;
    const value =
      parameter.kind === 'named'
        ? this.#parameters.named(parameter.name)
        : this.#parameters.numbered(index!);
    if (value !== undefined) return value;
    const shown = parameter.kind === 'named' ? `#<${parameter.name}>` : `#${index}`;
    const isMachine = index !== undefined && belongsToMachine(index, 'read');
    this.trouble ??= {
      message: isMachine
        ? `${shown} holds what only the machine knows`
        : `${shown} is read before the program sets it`,
      hint: isMachine ? 'write the number itself' : `set ${shown} first, here or in the program`,
      column: parameter.column,
    };
    return 0;
  }

  #checked(result: number, column: number, message: () => string): number {
    if (Number.isFinite(result)) return result;
    this.trouble ??= { message: message(), hint: 'correct the values of the expression', column };
    return 0;
  }
}

/** Angles in degrees; FIX goes down, FUP goes up; ROUND goes away from 0 at a half. */
function callFunction(name: FunctionName, argument: number): number {
  switch (name) {
    case 'abs':
      return Math.abs(argument);
    case 'acos':
      return Math.acos(argument) / DEGREE;
    case 'asin':
      return Math.asin(argument) / DEGREE;
    case 'cos':
      return Math.cos(argument * DEGREE);
    case 'exp':
      return Math.exp(argument);
    case 'fix':
      return Math.floor(argument);
    case 'fup':
      return Math.ceil(argument);
    case 'ln':
      return Math.log(argument);
    case 'round':
      return Math.sign(argument) * Math.round(Math.abs(argument));
    case 'sin':
      return Math.sin(argument * DEGREE);
    case 'sqrt':
      return Math.sqrt(argument);
    case 'tan':
      return Math.tan(argument * DEGREE);
  }
}

function operate(operator: Operator, left: number, right: number): number {
  switch (operator) {
    case '**':
      return left ** right;
    case '*':
      return left * right;
    case '/':
      return left / right;
    case 'mod': {
      // Never below 0, whatever the signs (from memory of the published interpreter).
      const rest = left % right;
      return rest < 0 ? rest + Math.abs(right) : rest;
    }
    case '+':
      return left + right;
    case '-':
      return left - right;
    case 'eq':
      return truth(Math.abs(left - right) < NEAR_EQUAL);
    case 'ne':
      return truth(Math.abs(left - right) >= NEAR_EQUAL);
    case 'gt':
      return truth(left > right);
    case 'ge':
      return truth(left >= right);
    case 'lt':
      return truth(left < right);
    case 'le':
      return truth(left <= right);
    case 'and':
      return truth(left !== 0 && right !== 0);
    case 'or':
      return truth(left !== 0 || right !== 0);
    case 'xor':
      return truth((left !== 0) !== (right !== 0));
  }
}

function truth(is: boolean): number {
  return is ? 1 : 0;
}
