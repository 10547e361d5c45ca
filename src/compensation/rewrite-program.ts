/** Rewrites a traced program, so that what it commands lands where it was meant to. */

import {
  type LocatedWord,
  locateWords,
  type ProgramTrace,
  type TracedLine,
} from '../program/index.js';
import type { Refusal } from './refuse-unsafe.js';
import { rewriteText, writeNumber } from './rewrite-text.js';
import { type RewriteCounts, Rewriter, type RewriteTask, type WrittenEnd } from './rewriter.js';

export interface RewriteRequest extends RewriteTask {
  readonly text: string;
  readonly trace: ProgramTrace;
}

export interface Rewritten {
  /** Without a header. */
  readonly text: string;
  readonly ends: readonly WrittenEnd[];
  readonly counts: Readonly<RewriteCounts>;
  readonly refusals: readonly Refusal[];
  /** Largest distance of a command from where it is meant to land, mm. */
  readonly largestChangeMm: number;
}

/** A program without flow keeps its lines in their places; another one is written out. */
export function rewriteProgram(request: RewriteRequest): Rewritten {
  const rewriter = new Rewriter(request);
  const text = request.trace.hasFlow
    ? writeOut(request, rewriter)
    : writeInPlace(request, rewriter);
  const { ends, counts, refusals, largestChangeMm } = rewriter;
  return { text, ends, counts, refusals, largestChangeMm };
}

/** Texts of lines and their ends, by turns. */
function takeApart(text: string): { lines: string[]; lineEnds: string[] } {
  const parts = text.split(/(\r\n|\n|\r)/);
  return {
    lines: parts.filter((_, k) => k % 2 === 0),
    lineEnds: [...parts.filter((_, k) => k % 2 === 1), ''],
  };
}

/** Each line in its place, those that are not carried out as they are. */
function writeInPlace({ text, trace }: RewriteRequest, rewriter: Rewriter): string {
  const { lines, lineEnds } = takeApart(text);
  const usual = lineEnds[0] === '' ? '\n' : lineEnds[0]!;
  const pieces = lines.map((line) => [line]);
  for (const traced of trace.lines) {
    pieces[traced.index] = rewriter.rewrite(traced, lines[traced.index]!);
  }
  return pieces.map((piece, k) => piece.join(lineEnds[k] || usual) + lineEnds[k]).join('');
}

/** The lines as they are carried out, loops and subprograms written out, expressions as numbers. */
function writeOut({ text, trace }: RewriteRequest, rewriter: Rewriter): string {
  const { lines, lineEnds } = takeApart(text);
  const usual = lineEnds[0] === '' ? '\n' : lineEnds[0]!;
  const out: string[] = [];
  const seen = new Set<number>();
  let before = -1;
  for (const traced of trace.lines) {
    const { index } = traced;
    const between = lines.slice(before + 1, index);
    if (index > before && between.every((line) => line.trim() === '')) out.push(...between);
    const plain = writePlain(traced, lines[index]!, seen.has(index));
    if (plain !== undefined) out.push(...rewriter.rewrite(traced, plain));
    seen.add(index);
    before = index;
  }
  // A file that opens with % closes with it.
  if (out.filter(isPercent).length === 1 && lines.filter(isPercent).length > 1) out.push('%');
  return `${out.join(usual)}${usual}`;
}

function isPercent(line: string): boolean {
  return line.trim() === '%';
}

/** A line without flow, settings and expressions; undefined where nothing is left of it. */
function writePlain(
  { scanned, block }: TracedLine,
  text: string,
  isRepeated: boolean,
): string | undefined {
  const located = locateWords(text);
  const computed = new Set(scanned.computed.map(({ column }) => column - 1));
  const replaced = new Map<LocatedWord, string>();
  const isCall = block.m.has(98) || block.m.has(99);
  const callColumn = (block.m.get(98) ?? block.m.get(99) ?? 0) - 1;
  for (const word of located.words) {
    const { letter, from } = word;
    if (letter === '#') replaced.set(word, '');
    else if (letter === 'O') {
      // The number of the program itself stays.
      if (scanned.flow?.keyword !== 'label' || isRepeated) replaced.set(word, '');
    } else if (isCall && (from === callColumn || letter === 'P' || letter === 'L')) {
      replaced.set(word, '');
    } else if (letter === 'N' && isRepeated) replaced.set(word, '');
    else if (computed.has(from)) replaced.set(word, `${letter}${valueAt(block, letter, from)}`);
  }
  if (replaced.size === 0) return text;
  const plain = rewriteText(text, located, { replaced, added: [] });
  return plain === '' ? undefined : plain;
}

function valueAt({ g, m, values }: TracedLine['block'], letter: string, from: number): string {
  const codes = letter === 'G' ? g : letter === 'M' ? m : undefined;
  if (codes === undefined) return writeNumber(values.get(letter)!);
  const [code] = [...codes].find(([, column]) => column === from + 1)!;
  return writeNumber(letter === 'G' ? code / 10 : code);
}
