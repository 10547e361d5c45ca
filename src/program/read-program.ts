/** RS-274/NGC text → the strokes that the machine was told to mark. */

import { createHash } from 'node:crypto';
import type { Hole, Stroke } from '../../shared/stroke.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import { type CollectedMarks, collectMarks } from './collect-marks.js';
import { isMarkedCompensated } from './compensated-mark.js';
import { gatherHoles } from './find-holes.js';
import type { Marking } from './marked-part.js';
import { type Envelope, measureEnvelope } from './measure-envelope.js';
import type { ModalState } from './modal-state.js';
import type { Motion } from './motion.js';
import { joinNotes } from './notes.js';
import { runProgram } from './run-program.js';
import { strokeExtent } from './stroke-extent.js';

export interface ReadProgramOptions {
  /** What the program is called in failures and findings, such as its file name. */
  readonly name: string;
  /** How the marks were made; 'auto' lets the program decide. */
  readonly marking: 'auto' | Marking;
  /** Lines that start with `/` are skipped. */
  readonly blockDelete: boolean;
}

/** A line at which the program stops: M0 and M60, or M1, which the machine can be told to ignore. */
export interface Stop {
  readonly line: number;
  readonly optional: boolean;
}

export interface CommandedProgram {
  readonly name: string;
  /** In order of marking; never empty where {@link readProgram} gave it. */
  readonly strokes: readonly Stroke[];
  /** In order of first appearance; in the same coordinates. */
  readonly holes: readonly Hole[];
  readonly marking: Marking;
  /** SHA-256 of the text in UTF-8, hexadecimal. */
  readonly sha256: string;
  /** Units that the program names; 'unstated' was read as mm. */
  readonly unitsUsed: 'mm' | 'inch' | 'both' | 'unstated';
  /** Larger side of the rectangle about all strokes, mm: tells mm read as inch; 0 without strokes. */
  readonly largestExtentMm: number;
  /** Where the program moves, in the coordinates of the marks. */
  readonly envelopeMm: Envelope;
  /** In order of first execution. */
  readonly stops: readonly Stop[];
  readonly findings: readonly Finding[];
}

/**
 * Reads a program that marks strokes: {@link readCommands}, but a program without any is refused.
 *
 * Fails: PROGRAM_INVALID (with the line); PROGRAM_NO_MARKS.
 */
export function readProgram(text: string, options: ReadProgramOptions): Outcome<CommandedProgram> {
  const program = readCommands(text, options);
  if (!program.ok || program.value.strokes.length > 0) return program;
  return refuseEmpty(text, program.value, options);
}

/**
 * Reads a program. Positions are unknown until the program names them; an approach direction is
 * given only where the program itself moved that axis from a known place, or incrementally.
 *
 * Parameters, expressions, loops, branches and subprograms of the same text are followed; a stroke
 * names the line that was executed. Not followed: parameters that hold the state of the machine,
 * other files. Arcs that are no full circles move the position, but mark nothing that is used.
 *
 * Coordinates are those of the first mark. What the program itself tells of how other coordinates
 * lie to them is followed (G10, G52, G68, G92); a mark behind a shift that it does not tell is
 * refused.
 *
 * Fails: PROGRAM_INVALID (with the line).
 */
export function readCommands(text: string, options: ReadProgramOptions): Outcome<CommandedProgram> {
  const { name } = options;
  const run = runProgram(name, text, options.blockDelete);
  if (!run.ok) return run;
  const { state, notes, endFinding } = run.value;

  const chosen = chooseMarking(state, options);
  if (!chosen.ok) return chosen;
  const { marking, collected, markingFinding } = chosen.value;
  if (collected.conflict !== undefined) return collected.conflict;
  const datum = collected.datum ?? state.motions.find(isPlaced)?.conditions.place;
  const envelopeMm = measureEnvelope(state.motions, datum, collected.notes);
  return success({
    name,
    strokes: collected.strokes,
    holes: gatherHoles(collected.sightings, collected.datum),
    marking,
    sha256: createHash('sha256').update(text, 'utf8').digest('hex'),
    unitsUsed: nameUnits(state),
    largestExtentMm: measureExtent(collected.strokes),
    envelopeMm,
    stops: [...state.stops].map(([line, optional]) => ({ line, optional })),
    findings: [
      ...joinNotes(notes, collected.notes).findings(name),
      ...[endFinding, markingFinding].filter((finding) => finding !== undefined),
      ...(isMarkedCompensated(text) ? [describeCompensated(name)] : []),
    ],
  });
}

function describeCompensated(name: string): Finding {
  return {
    code: 'PROGRAM_COMPENSATED',
    message: 'the program was compensated: its commands are bent, so its lines form no true grid',
    hint: 'mark the grid with the program as it was before, and measure with that one',
    where: name,
  };
}

function isPlaced({ to }: Motion): boolean {
  return to[0] !== undefined || to[1] !== undefined;
}

interface ChosenMarking {
  readonly marking: Marking;
  readonly collected: CollectedMarks;
  readonly markingFinding: Finding | undefined;
}

function chooseMarking(state: ModalState, options: ReadProgramOptions): Outcome<ChosenMarking> {
  const { name } = options;
  if (options.marking !== 'auto') {
    const collected = collectMarks(name, state.motions, options.marking);
    if (!collected.ok) return collected;
    return success({
      marking: options.marking,
      collected: collected.value,
      markingFinding: undefined,
    });
  }
  const cut = collectMarks(name, state.motions, 'cutter');
  const burnt = collectMarks(name, state.motions, 'laser');
  // Coordinates that cannot be joined fail either way round; only marks count here.
  const isCut = !cut.ok || cut.value.strokes.length > 0 || isCutOnly(cut.value, state.motions);
  const chosen = isCut ? cut : burnt;
  if (!chosen.ok) return chosen;
  const isDoubtful =
    isCut && burnt.ok && burnt.value.strokes.length > 0 && differ(chosen.value, burnt.value);
  return success({
    marking: isCut ? 'cutter' : 'laser',
    collected: chosen.value,
    markingFinding: isDoubtful ? describeDoubt(name, chosen.value, burnt.value) : undefined,
  });
}

/** Holes below the surface, and no move that looks like burning: at Z 0, or at no Z at all. */
function isCutOnly(cut: CollectedMarks, motions: readonly Motion[]): boolean {
  if (cut.sightings.length === 0) return false;
  return !motions.some(
    ({ kind, movesXY, conditions, from, to }) =>
      kind === 'feed' &&
      movesXY &&
      conditions.isSpindleOn &&
      (from[2] === undefined || to[2] === undefined || (from[2] === 0 && to[2] === 0)),
  );
}

function differ(one: CollectedMarks, other: CollectedMarks): boolean {
  return (
    one.strokes.length !== other.strokes.length ||
    one.strokes.some((stroke, index) => {
      const twin = other.strokes[index]!;
      return [0, 1].some(
        (axis) =>
          stroke.fromMm[axis] !== twin.fromMm[axis] || stroke.toMm[axis] !== twin.toMm[axis],
      );
    })
  );
}

function describeDoubt(name: string, cut: CollectedMarks, burnt: CollectedMarks): Finding {
  return {
    code: 'PROGRAM_MARKING_UNCERTAIN',
    message: `read as cut marks (Z below 0: ${cut.strokes.length} strokes), but the program could also burn them (spindle on and S above 0: ${burnt.strokes.length} strokes)`,
    hint: 'say cutter or laser where the program decided wrongly',
    where: name,
  };
}

function refuseEmpty(
  text: string,
  { name, marking, findings }: CommandedProgram,
  options: ReadProgramOptions,
): Outcome<CommandedProgram> {
  if (text.trim() === '') {
    return failed('PROGRAM_NO_MARKS', 'the program is empty', {
      where: name,
      hint: 'give the program that marked the grid',
    });
  }
  const burns = 'a laser marks where a G1 move in X or Y has M3 or M4 in force and S above 0';
  const cuts = 'a cutter marks where a G1 move in X or Y has Z below 0';
  const expected =
    options.marking === 'auto' ? `${burns}; ${cuts}` : { laser: burns, cutter: cuts }[marking];
  const seen = findings.map((finding) => finding.message);
  return failed('PROGRAM_NO_MARKS', ['the program marks no straight line', ...seen].join('; '), {
    where: name,
    hint: `${expected}; give the program that marked the grid`,
  });
}

function nameUnits({ unitsSeen }: ModalState): CommandedProgram['unitsUsed'] {
  if (unitsSeen.size === 2) return 'both';
  return [...unitsSeen][0] ?? 'unstated';
}

function measureExtent(strokes: readonly Stroke[]): number {
  const extent = strokeExtent(strokes);
  return extent === undefined ? 0 : Math.max(extent.x[1] - extent.x[0], extent.y[1] - extent.y[0]);
}
