/** Which O words of a program belong together: where loops and branches begin, go on and end. */

import { type Outcome, success } from '../quantity/index.js';
import { type Cursor, invalidAt, skipBlanks } from './cursor.js';
import type { FlowKeyword, FlowWord } from './read-flow-word.js';
import { scanLine } from './scan-line.js';

/** Lines are counted from 0 here: places in the list of lines. */
export interface FlowNode {
  /** until: the WHILE that closes a DO. */
  readonly keyword: FlowKeyword | 'until';
  /** The line that opened the block; of break and continue the loop's. */
  readonly head: number;
  /** if, elseif, else: the next branch or the end. Undefined until it is read. */
  next: number | undefined;
  /** Of a head: the line that closes the block. Undefined until it is read. */
  end: number | undefined;
}

export interface FlowStructure {
  /** Lines with an O word; a failure where it has no place. Told only when the line is reached. */
  readonly nodes: ReadonlyMap<number, Outcome<FlowNode>>;
  /** Where subprograms begin, by label. */
  readonly subprograms: ReadonlyMap<string, readonly number[]>;
  /** O words without a keyword, by label. */
  readonly labels: ReadonlyMap<string, readonly number[]>;
}

interface OpenBlock {
  readonly label: string;
  readonly keyword: FlowKeyword;
  readonly head: FlowNode;
  /** The last branch of an if. */
  branch: FlowNode;
}

/** Loops and branches inside each other: far more than programs have. */
const MOST_NESTED_BLOCKS = 100;

const CLOSED_BY: Partial<Record<FlowKeyword, FlowKeyword>> = {
  sub: 'endsub',
  while: 'endwhile',
  do: 'while',
  repeat: 'endrepeat',
  if: 'endif',
};
const LOOPS: ReadonlySet<FlowKeyword> = new Set(['while', 'do', 'repeat']);

/** Reads the O words of all lines up to the second `%`; lines that are skipped do not count. */
export function readFlowStructure(
  name: string,
  lines: readonly string[],
  blockDelete: boolean,
): FlowStructure {
  const builder = new StructureBuilder(name);
  let isFirst = true;
  for (const [index, text] of lines.entries()) {
    const start = firstLetter(text);
    if (start === '') continue;
    if (start === '%' && !isFirst) break;
    isFirst = false;
    if (start !== 'O' || (blockDelete && /^\s*\//.test(text))) continue;
    const scanned = scanLine(name, index + 1, text);
    // A line that cannot be read fails when it is reached.
    if (scanned.ok && scanned.value.flow !== undefined) builder.add(index, scanned.value.flow);
  }
  return builder.finish();
}

/** The first character that counts, behind `/`, comments and a line number. */
function firstLetter(text: string): string {
  const cursor: Cursor = { name: '', line: 0, text, at: 0 };
  for (;;) {
    skipBlanks(cursor);
    const character = text[cursor.at] ?? '';
    if (character === '(') {
      const end = text.indexOf(')', cursor.at);
      if (end < 0) return character;
      cursor.at = end + 1;
    } else if (/[/nN\d]/.test(character)) {
      cursor.at += 1;
    } else {
      return character.toUpperCase();
    }
  }
}

class StructureBuilder {
  readonly #name: string;
  readonly #nodes = new Map<number, Outcome<FlowNode>>();
  readonly #subprograms = new Map<string, number[]>();
  readonly #labels = new Map<string, number[]>();
  readonly #open: OpenBlock[] = [];

  constructor(name: string) {
    this.#name = name;
  }

  add(index: number, word: FlowWord): void {
    this.#nodes.set(index, this.#place(index, word));
  }

  finish(): FlowStructure {
    for (const { label, keyword, head } of this.#open) {
      const closing = `O${label} ${CLOSED_BY[keyword]!.toUpperCase()}`;
      this.#nodes.set(
        head.head,
        this.#refuse(
          head.head,
          `O${label} ${keyword.toUpperCase()} is not closed`,
          `write ${closing}`,
        ),
      );
    }
    return { nodes: this.#nodes, subprograms: this.#subprograms, labels: this.#labels };
  }

  #place(index: number, { keyword, label: labelled }: FlowWord): Outcome<FlowNode> {
    const label = typeof labelled === 'string' ? labelled : '';
    const top = this.#open.at(-1);
    const isTop = top !== undefined && top.label === label;
    switch (keyword) {
      case 'label':
        enlist(this.#labels, label, index);
        return success(nodeOf(keyword, index));
      case 'call':
      case 'return':
        return success(nodeOf(keyword, index));
      case 'while':
        return isTop && top.keyword === 'do'
          ? this.#close(index, top, 'until')
          : this.#openBlock(index, keyword, label);
      case 'sub':
        enlist(this.#subprograms, label, index);
        return top === undefined
          ? this.#openBlock(index, keyword, label)
          : this.#refuse(index, `SUB inside ${spell(top)}`, 'move the subprogram out of it');
      case 'do':
      case 'repeat':
      case 'if':
        return this.#openBlock(index, keyword, label);
      case 'elseif':
      case 'else':
        return isTop && top.keyword === 'if' && top.branch.keyword !== 'else'
          ? success(goOn(top, nodeOf(keyword, top.head.head), index))
          : this.#misplaced(index, keyword, label);
      case 'break':
      case 'continue': {
        const loop = this.#open.findLast(
          (block) => block.label === label && LOOPS.has(block.keyword),
        );
        return loop === undefined
          ? this.#misplaced(index, keyword, label)
          : success(nodeOf(keyword, loop.head.head));
      }
      default:
        return isTop && CLOSED_BY[top.keyword] === keyword
          ? this.#close(index, top, keyword)
          : this.#misplaced(index, keyword, label);
    }
  }

  #openBlock(index: number, keyword: FlowKeyword, label: string): Outcome<FlowNode> {
    if (this.#open.length >= MOST_NESTED_BLOCKS) {
      const message = `more than ${MOST_NESTED_BLOCKS} loops and branches inside each other`;
      return this.#refuse(index, message, 'close them, or simplify the program');
    }
    const head = nodeOf(keyword, index);
    this.#open.push({ label, keyword, head, branch: head });
    return success(head);
  }

  #close(index: number, block: OpenBlock, keyword: FlowNode['keyword']): Outcome<FlowNode> {
    this.#open.pop();
    const node = nodeOf(keyword, block.head.head);
    goOn(block, node, index);
    block.head.end = index;
    return success(node);
  }

  #misplaced(index: number, keyword: FlowKeyword, label: string): Outcome<FlowNode> {
    const top = this.#open.at(-1);
    const message = `O${label} ${keyword.toUpperCase()} belongs to nothing that is open`;
    return this.#refuse(
      index,
      top === undefined ? message : `${message}: open is ${spell(top)}`,
      'see that both ends of a loop or branch carry the same label',
    );
  }

  #refuse(index: number, message: string, hint: string): Outcome<FlowNode> {
    return invalidAt({ name: this.#name, line: index + 1 }, message, hint);
  }
}

function nodeOf(keyword: FlowNode['keyword'], head: number): FlowNode {
  return { keyword, head, next: undefined, end: undefined };
}

/** The block goes on with this line. */
function goOn(block: OpenBlock, node: FlowNode, index: number): FlowNode {
  block.branch.next = index;
  block.branch = node;
  return node;
}

function spell({ label, keyword, head }: OpenBlock): string {
  return `O${label} ${keyword.toUpperCase()} of line ${head.head + 1}`;
}

function enlist(places: Map<string, number[]>, label: string, index: number): void {
  const known = places.get(label);
  if (known === undefined) places.set(label, [index]);
  else known.push(index);
}
