/** The program that marked the board → strokes, grid, segments. */

import { basename } from 'node:path';
import type { PlacementRecord } from '../../shared/schemas/measurement.js';
import {
  cutStrokes,
  describeGrid,
  FEWEST_MEASURED_LINES,
  latticeProgram,
} from '../program/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { Board } from './board.js';
import { readPlan } from './read-plan.js';
import { readProgramFile } from './read-program-file.js';
import type { MarkedBy, SurveyRequest } from './survey-request.js';

export interface Placed {
  readonly board: Board;
  readonly record: PlacementRecord;
  readonly findings: Finding[];
}

type PlacementRequest = Pick<SurveyRequest, 'markedBy' | 'marking' | 'blockDelete'>;

/** What one or two programs marked on the board. */
export interface PlacedAll extends Pick<Placed, 'board' | 'findings'> {
  /** In the order of the programs. */
  readonly records: readonly PlacementRecord[];
}

const NAME_ONE = { hint: 'name the one program that marked the grid: --program FILE' };

/**
 * The one program of a request.
 *
 * Fails: WRONG_CALL; FILE_MISSING; FILE_UNREADABLE; what reading a program fails with; PLAN_INVALID; PROGRAM_NO_GRID.
 */
export async function readPlacement(request: PlacementRequest): Promise<Outcome<Placed>> {
  const [source, ...others] = request.markedBy;
  if (source === undefined) return failed('WRONG_CALL', 'no program was named', NAME_ONE);
  if (others.length > 0) {
    return failed(
      'WRONG_CALL',
      'more than one program: only photos tell their marks apart',
      NAME_ONE,
    );
  }
  return readOne(source, request);
}

/**
 * As `readPlacement`, but the board may carry the marks of a second program.
 *
 * Fails: as `readPlacement`.
 */
export async function readPlacements(request: PlacementRequest): Promise<Outcome<PlacedAll>> {
  const { markedBy } = request;
  if (markedBy.length < 2) {
    const placed = await readPlacement(request);
    if (!placed.ok) return placed;
    const { board, record, findings } = placed.value;
    return success({ board, records: [record], findings });
  }
  if (markedBy.length > 2) {
    return failed(
      'WRONG_CALL',
      `${markedBy.length} programs: a board is read that one or two of them marked`,
      { hint: 'give photos of a board with two grids, and the two programs that marked them' },
    );
  }
  const [first, second] = [
    await readOne(markedBy[0], request),
    await readOne(markedBy[1], request),
  ];
  if (!first.ok) return first;
  if (!second.ok) return second;
  const placed = [first.value, second.value];
  return success({
    board: { ...first.value.board, second: second.value.board },
    records: placed.map(({ record }) => record),
    findings: placed.flatMap(({ findings }) => findings),
  });
}

async function readOne(source: MarkedBy, request: PlacementRequest): Promise<Outcome<Placed>> {
  const read = await readStrokes(source, request);
  if (!read.ok) return read;
  const { strokes, name, sha256, findings } = read.value;
  const described = describeGrid(strokes);
  if (!described.ok) {
    const bent = findings.find(({ code }) => code === 'PROGRAM_COMPENSATED');
    if (bent === undefined) return described;
    // The lines are straight on the board, not in the program: that explains why there are none.
    return failed('PROGRAM_NO_GRID', `${bent.message} (${described.failure.message})`, {
      where: name,
      ...(bent.hint === undefined ? {} : { hint: bent.hint }),
    });
  }
  const grid = described.value;
  const fewest = Math.min(grid.linesAtX.length, grid.linesAtY.length);
  if (fewest < FEWEST_MEASURED_LINES) {
    return failed('PROGRAM_NO_GRID', `the grid has only ${fewest} lines along one axis`, {
      where: name,
      hint: `mark at least ${FEWEST_MEASURED_LINES} lines at constant X and at constant Y: fewer cannot be told from other edges`,
      figures: { linesAtX: grid.linesAtX.length, linesAtY: grid.linesAtY.length },
    });
  }
  const cut = cutStrokes(strokes, grid);
  const senses = (axis: 'x' | 'y') =>
    new Set(cut.segments.filter((s) => s.axis === axis).map((s) => s.approach));
  const both = (axis: 'x' | 'y') => senses(axis).has(1) && senses(axis).has(-1);
  const record: PlacementRecord = {
    program: name,
    ...(sha256 === undefined ? {} : { sha256 }),
    // The first placement is the datum.
    rotation: { value: 0, u: 0 },
    shift: { x: { value: 0, u: 0 }, y: { value: 0, u: 0 } },
    linesAtX: grid.linesAtX.map((line) => line.positionMm),
    linesAtY: grid.linesAtY.map((line) => line.positionMm),
    strokes: strokes.length,
    bothApproaches: { x: both('x'), y: both('y') },
  };
  return success({
    board: { name, strokes, grid, segments: cut.segments },
    record,
    findings: [...findings, ...cut.findings],
  });
}

async function readStrokes(
  source: MarkedBy,
  request: PlacementRequest,
): Promise<
  Outcome<{ strokes: Board['strokes']; name: string; sha256?: string; findings: Finding[] }>
> {
  if (source.kind === 'lattice') {
    const strokes = latticeProgram(source.spec);
    if (!strokes.ok) return strokes;
    const finding: Finding = {
      code: 'PROGRAM_UNKNOWN',
      message: 'the program is not known: a plain grid was assumed, its lines taken as commanded',
      hint: 'keep the program with the board: it tells lost motion and which way round the grid lies',
    };
    return success({ strokes: strokes.value, name: source.spec, findings: [finding] });
  }
  const { file } = source;
  if (source.kind === 'grid') {
    const plan = await readPlan(file);
    if (!plan.ok) return plan;
    const { name, sha256, strokes } = plan.value;
    return success({ strokes, name, sha256, findings: [] });
  }
  const program = await readProgramFile(file, {
    name: basename(file),
    marking: request.marking,
    blockDelete: request.blockDelete,
  });
  if (!program.ok) return program;
  const { strokes, name, sha256, findings } = program.value;
  return success({ strokes, name, sha256, findings: [...findings] });
}
