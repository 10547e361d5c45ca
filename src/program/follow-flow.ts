/** Which line comes next: loops, branches, subprograms. */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import { invalidAt, type Place } from './cursor.js';
import { evaluateExpression } from './evaluate-expression.js';
import type { FlowNode, FlowStructure } from './flow-structure.js';
import type { Parameters } from './parameters.js';
import type { Expression } from './read-expression.js';
import { type FlowWord, isLabelNumber } from './read-flow-word.js';
import type { ScannedLine } from './scan-line.js';

/** One level of the program: the main one, or a subprogram that runs. */
interface Frame {
  readonly kind: 'main' | 'call' | 'M98';
  /** Where the caller goes on, and where the subprogram begins; from 0. */
  readonly returnTo: number;
  readonly start: number;
  /** Line of the call, from 1. */
  readonly line: number;
  /** Runs still to be made, this one included. */
  runsLeft: number;
  /** Rounds left of each REPEAT that runs, by the place of its head. */
  readonly rounds: Map<number, number>;
}

/** Subprograms inside each other: far more than programs have. */
const MOST_NESTED_CALLS = 100;

/** How far a computed label or count may lie from a whole number (NISTIR 6556, section 3.3.2.1). */
const NEAR_INTEGER = 1e-4;

const COUNT_HINT = 'expected a whole number from 0';

/** Follows O words, M98 and M99. One instance for each run of a program. */
export class Flow {
  readonly #name: string;
  readonly #parameters: Parameters;
  /** Called at the first O word, M98 or M99: most programs have none. */
  readonly #readStructure: () => FlowStructure;
  #structure: FlowStructure | undefined;
  readonly #frames: Frame[] = [frameOf('main', 0, 0, 0, 1)];
  /** The branch to be decided on; any other one that is reached lies behind the branch taken. */
  #nextToDecide: number | undefined;
  /** Lines may be executed more than once from now on. */
  hasJumped = false;

  constructor(name: string, parameters: Parameters, readStructure: () => FlowStructure) {
    this.#name = name;
    this.#parameters = parameters;
    this.#readStructure = readStructure;
  }

  /** Fails where the program ends in the middle of a subprogram. */
  checkEnd(): Outcome<void> {
    const frame = this.#frames.at(-1)!;
    if (frame.kind === 'main') return success(undefined);
    return invalidAt(
      { name: this.#name, line: frame.line },
      'the subprogram called here runs into the end of the program',
      'end it with M99, and the program with M2 or M30',
    );
  }

  /**
   * Carries out the O word of a line.
   *
   * @param index place of the line, from 0.
   * @returns place of the line that comes next.
   * Fails: PROGRAM_INVALID, with the line.
   */
  follow(index: number, { line, flow }: ScannedLine): Outcome<number> {
    const word = flow!;
    const node = this.#nodeAt(index);
    if (!node.ok) return node;
    const place = { name: this.#name, line, column: word.column };
    const { keyword, head } = node.value;
    switch (keyword) {
      case 'label':
      case 'do':
      case 'endif':
        return success(index + 1);
      case 'sub':
        return success(node.value.end! + 1);
      case 'call':
        return this.#call(place, index, word);
      case 'return':
      case 'endsub':
        return this.#return(place, word);
      case 'while':
        return this.#branch(place, word, index + 1, node.value.end! + 1);
      case 'until':
        this.hasJumped = true;
        return this.#branch(place, word, head + 1, index + 1);
      case 'endwhile':
        this.hasJumped = true;
        return success(head);
      case 'repeat':
        return this.#startRepeat(place, index, node.value, word);
      case 'endrepeat':
        return this.#endRepeat(place, index, head);
      case 'if':
        return this.#decide(place, word, index, node.value);
      case 'elseif':
      case 'else':
        return this.#nextToDecide === index
          ? this.#decide(place, word, index, node.value)
          : this.#passOver(head);
      case 'break':
      case 'continue':
        return this.#leaveRound(head, keyword);
    }
  }

  /** Carries out M98 and M99. @returns as {@link follow}. */
  followCodes(index: number, block: Block): Outcome<number> {
    const place = {
      name: block.name,
      line: block.line,
      column: (block.m.get(99) ?? block.m.get(98))!,
    };
    if (block.m.has(99)) return this.#return(place, undefined);
    const wanted = block.values.get('P');
    if (wanted === undefined || !isLabelNumber(wanted)) {
      return invalidAt(place, 'M98 has no subprogram number', 'write it behind P: M98 P100');
    }
    const runs = block.values.get('L') ?? 1;
    if (!isLabelNumber(runs)) {
      return invalidAt(place, `L${runs} is no count`, COUNT_HINT);
    }
    const { labels, subprograms } = this.#known();
    const label = String(wanted);
    const start = this.#find(place, label, subprograms.has(label) ? subprograms : labels);
    if (!start.ok || runs === 0) return start.ok ? success(index + 1) : start;
    return this.#enter(place, frameOf('M98', index + 1, start.value + 1, block.line, runs));
  }

  #known(): FlowStructure {
    this.#structure ??= this.#readStructure();
    return this.#structure;
  }

  #nodeAt(index: number): Outcome<FlowNode> {
    const node = this.#known().nodes.get(index);
    if (node === undefined) throw new Error(`no O word in line ${index + 1}`);
    return node;
  }

  #call(place: Place, index: number, word: FlowWord): Outcome<number> {
    const label = this.#settleLabel(place, word);
    if (!label.ok) return label;
    const values: number[] = [];
    for (const expression of word.values) {
      const value = this.#evaluate(place, expression);
      if (!value.ok) return value;
      values.push(value.value);
    }
    const start = this.#find(place, label.value, this.#known().subprograms);
    if (!start.ok) return start;
    const entered = this.#enter(place, frameOf('call', index + 1, start.value + 1, place.line, 1));
    if (entered.ok) this.#parameters.enter(values);
    return entered;
  }

  #settleLabel(place: Place, { label }: FlowWord): Outcome<string> {
    if (typeof label === 'string') return success(label);
    const value = this.#evaluate(place, label);
    if (!value.ok) return value;
    const whole = Math.round(value.value);
    return Math.abs(value.value - whole) <= NEAR_INTEGER && isLabelNumber(whole)
      ? success(String(whole))
      : invalidAt(place, `O${value.value} is no label`, 'see that the expression gives a number');
  }

  #find(
    place: Place,
    label: string,
    among: ReadonlyMap<string, readonly number[]>,
  ): Outcome<number> {
    const [start, second] = among.get(label) ?? [];
    if (start === undefined) {
      const hint = 'put it into the same file: other files are not looked for';
      return invalidAt(place, `there is no subprogram O${label} in the program`, hint);
    }
    if (second !== undefined) {
      const message = `O${label} begins in line ${start + 1} and again in line ${second + 1}`;
      return invalidAt(place, message, 'give one of them another label');
    }
    const node = this.#nodeAt(start);
    return node.ok ? success(start) : node;
  }

  #enter(place: Place, frame: Frame): Outcome<number> {
    if (this.#frames.length > MOST_NESTED_CALLS) {
      const message = `more than ${MOST_NESTED_CALLS} subprograms inside each other`;
      return invalidAt(place, message, 'does a subprogram call itself without end?');
    }
    this.hasJumped = true;
    this.#frames.push(frame);
    return success(frame.start);
  }

  #return(place: Place, word: FlowWord | undefined): Outcome<number> {
    const frame = this.#frames.at(-1)!;
    if (frame.kind === 'main') {
      return invalidAt(
        place,
        'the end of a subprogram is reached that was not called',
        'end the main program with M2 or M30 before it',
      );
    }
    let returned: number | undefined;
    for (const expression of word?.values ?? []) {
      const value = this.#evaluate(place, expression);
      if (!value.ok) return value;
      returned = value.value;
    }
    this.#parameters.setReturned(returned);
    frame.runsLeft -= 1;
    if (frame.runsLeft > 0) return success(frame.start);
    this.#frames.pop();
    if (frame.kind === 'call') this.#parameters.leave();
    return success(frame.returnTo);
  }

  #branch(place: Place, word: FlowWord, ifTrue: number, ifFalse: number): Outcome<number> {
    const condition = this.#evaluate(place, word.values[0]!);
    if (!condition.ok) return condition;
    return success(condition.value === 0 ? ifFalse : ifTrue);
  }

  /** IF, ELSEIF and ELSE: into the branch, or on to the next one. */
  #decide(place: Place, word: FlowWord, index: number, node: FlowNode): Outcome<number> {
    this.#nextToDecide = undefined;
    if (node.keyword === 'else') return success(index + 1);
    const next = this.#branch(place, word, index + 1, node.next ?? index + 1);
    if (next.ok && next.value === node.next) this.#nextToDecide = node.next;
    return next;
  }

  /** On from the end of the branch that was taken to the end of all. */
  #passOver(head: number): Outcome<number> {
    const opened = this.#nodeAt(head);
    return opened.ok ? success(opened.value.end! + 1) : opened;
  }

  #startRepeat(place: Place, index: number, node: FlowNode, word: FlowWord): Outcome<number> {
    const count = this.#evaluate(place, word.values[0]!);
    if (!count.ok) return count;
    const rounds = Math.round(count.value);
    if (Math.abs(count.value - rounds) > NEAR_INTEGER) {
      return invalidAt(place, `REPEAT [${count.value}] is no count`, COUNT_HINT);
    }
    this.#frames.at(-1)!.rounds.set(index, rounds);
    return success(rounds > 0 ? index + 1 : node.end! + 1);
  }

  #endRepeat(place: Place, index: number, head: number): Outcome<number> {
    const { rounds } = this.#frames.at(-1)!;
    const left = rounds.get(head);
    if (left === undefined) {
      return invalidAt(place, 'ENDREPEAT is reached without its REPEAT', 'do not jump into loops');
    }
    rounds.set(head, left - 1);
    this.hasJumped = true;
    return success(left > 1 ? head + 1 : index + 1);
  }

  #leaveRound(head: number, keyword: 'break' | 'continue'): Outcome<number> {
    const loop = this.#nodeAt(head);
    if (!loop.ok) return loop;
    // CONTINUE goes to the line that decides on the next round.
    return success(loop.value.end! + (keyword === 'break' ? 1 : 0));
  }

  #evaluate(place: Place, expression: Expression): Outcome<number> {
    return evaluateExpression(place, expression, this.#parameters);
  }
}

function frameOf(
  kind: Frame['kind'],
  returnTo: number,
  start: number,
  line: number,
  runsLeft: number,
): Frame {
  return { kind, returnTo, start, line, runsLeft, rounds: new Map() };
}
