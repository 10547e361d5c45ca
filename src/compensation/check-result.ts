/** The written program, read again: does each of its moves end where it was meant to be commanded? */

import type { Envelope } from '../program/index.js';
import {
  type Place as Coordinates,
  type Motion,
  measureEnvelope,
  Notes,
  type TracedLine,
  traceProgram,
} from '../program/index.js';
import { type Outcome, success } from '../quantity/index.js';
import type { LandingMap, Point } from './landing-map.js';
import type { WrittenEnd } from './rewriter.js';

export interface CheckedResult {
  /** Largest distance between where an end lands and where it was meant to, mm. */
  readonly largestMissMm: number;
  /** In the coordinates of the program. */
  readonly envelopeMm: Envelope;
}

/** Numbers in the file are rounded, and so was what is expected; names of places to a millionth. */
const SAME_MM = 1e-4;

/**
 * Fails: PROGRAM_INVALID where our own reader cannot read what was written; throws where it reads
 * something else than was meant, for that is a fault of the tool.
 */
export function checkResult(
  name: string,
  text: string,
  ends: readonly WrittenEnd[],
  map: LandingMap,
  zeroMm: Point,
): Outcome<CheckedResult> {
  const trace = traceProgram(name, text, false);
  if (!trace.ok) return trace;
  const datum = datumOf(trace.value.lines);
  let at = 0;
  let largestMissMm = 0;
  for (const { index, motion } of pathOf(trace.value.lines)) {
    const end = ends[at];
    at += 1;
    const reached = [
      motion.to[0]! - (datum?.offsetX ?? 0) + zeroMm[0],
      motion.to[1]! - (datum?.offsetY ?? 0) + zeroMm[1],
    ] as const;
    if (end === undefined || distance(reached, end.command) > SAME_MM) {
      const wanted = end === undefined ? 'nothing' : end.command.join(', ');
      throw new Error(
        `line ${index + 1} of ${name} reads as ${reached.join(', ')}, meant ${wanted}`,
      );
    }
    if (end.meant === undefined) continue;
    largestMissMm = Math.max(largestMissMm, distance(map.land(reached), end.meant));
  }
  if (at !== ends.length) throw new Error(`${name} has ${at} moves, meant ${ends.length}`);
  return success({ largestMissMm, envelopeMm: envelopeOf(trace.value.lines) });
}

/** Coordinates of the first move whose place in X or Y is known. */
export function datumOf(lines: readonly TracedLine[]): Coordinates | undefined {
  for (const { motions } of lines) {
    const first = motions.find(({ to }) => to[0] !== undefined || to[1] !== undefined);
    if (first !== undefined) return first.conditions.place;
  }
  return undefined;
}

export function envelopeOf(lines: readonly TracedLine[]): Envelope {
  const motions = lines.flatMap((line) => line.motions);
  return measureEnvelope(motions, datumOf(lines), new Notes());
}

/** Moves that name a place in X or Y, in order. */
export function* pathOf(
  lines: readonly TracedLine[],
): Generator<{ readonly index: number; readonly motion: Motion }> {
  for (const { index, block, motions } of lines) {
    const namesXY = block.values.has('X') || block.values.has('Y');
    for (const motion of motions) {
      if (motion.kind === 'other' || !(namesXY || motion.kind === 'arc')) continue;
      yield { index, motion };
    }
  }
}

function distance([x, y]: Point, [otherX, otherY]: Point): number {
  return Math.hypot(x - otherX, y - otherY);
}
