/** A program as it is carried out: line after line, each with its motions and the modes it left. */

import { type Outcome, success } from '../quantity/index.js';
import type { Block } from './arrange-words.js';
import type { AxisFrame } from './coordinates.js';
import type { AxisPositions, Motion } from './motion.js';
import { runProgram } from './run-program.js';
import type { ScannedLine } from './scan-line.js';

/** One execution of a line; lines in loops and subprograms come more than once. */
export interface TracedLine {
  /** From 0. */
  readonly index: number;
  readonly scanned: ScannedLine;
  readonly block: Block;
  /** In order; several for a drilling cycle that is repeated. */
  readonly motions: readonly Motion[];
  /** Behind the line; X and Y in the coordinates of the anchors, mm. */
  readonly position: AxisPositions;
  readonly anchors: readonly [x: number, y: number];
  readonly frames: readonly [AxisFrame, AxisFrame, AxisFrame];
  readonly isRotated: boolean;
  readonly isCompensated: boolean;
  readonly mmPerUnit: number;
  readonly isIncremental: boolean;
  readonly areCentresAbsolute: boolean;
  readonly plane: 170 | 180 | 190;
  /** Motion code in force, times ten. */
  readonly motionCode: number | undefined;
}

export interface ProgramTrace {
  readonly lines: readonly TracedLine[];
  /** A line was carried out that calls, repeats or branches. */
  readonly hasFlow: boolean;
}

/** Fails: PROGRAM_INVALID (with the line). */
export function traceProgram(
  name: string,
  text: string,
  blockDelete: boolean,
): Outcome<ProgramTrace> {
  const lines: TracedLine[] = [];
  let hasFlow = false;
  let motionsBefore = 0;
  const run = runProgram(name, text, blockDelete, ({ index, scanned, block, state }) => {
    const { flow } = scanned;
    hasFlow ||= (flow !== undefined && flow.keyword !== 'label') || block.m.has(98);
    lines.push({
      index,
      scanned,
      block,
      motions: state.motions.slice(motionsBefore),
      position: state.position,
      anchors: [...state.anchors],
      frames: state.coordinates.frames,
      isRotated: state.coordinates.rotation !== undefined,
      isCompensated: state.compensation !== 'off',
      mmPerUnit: state.mmPerUnit,
      isIncremental: state.isIncremental,
      areCentresAbsolute: state.areCentresAbsolute,
      plane: state.plane,
      motionCode: state.motionCode,
    });
    motionsBefore = state.motions.length;
  });
  return run.ok ? success({ lines, hasFlow }) : run;
}
