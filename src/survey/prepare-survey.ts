/** What every survey begins with: the board, what is known besides the pictures, and the head of the result. */

import { MEASUREMENT_SCHEMA_ID, type Measurement } from '../../shared/schemas/measurement.js';
import type { NetworkEvidence } from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { Board } from './board.js';
import { type BuiltEvidence, buildEvidence } from './build-evidence.js';
import { makeNodeFinder } from './find-nodes.js';
import { type Placed, type PlacedAll, readPlacement, readPlacements } from './read-placement.js';
import type { ImagePointsRequest, SurveyContext, SurveyRequest } from './survey-request.js';

export interface SurveyGround {
  /** Whose lines the adjustment knows. */
  readonly board: Board;
  /** What marked it: its extent, and how the marks were approached. */
  readonly program: Board;
  readonly built: BuiltEvidence;
  /** The head of the result. */
  readonly base: Pick<
    Measurement,
    'schema' | 'tool' | 'measuredAt' | 'machine' | 'gantryAxis' | 'placements'
  >;
  /** Grows as the survey goes on. */
  readonly findings: Finding[];
  /** By the clock of `performance`, ms. */
  readonly startedMs: number;
}

/** What every survey is asked, whatever its pictures or points are. */
type GroundRequest = Pick<SurveyRequest, keyof SurveyRequest & keyof ImagePointsRequest>;

/**
 * @param ownGrid of points that are measured by themselves.
 * @param onlyPhotos tell of the marks: then two programs may have made them.
 * Fails: what reading the program fails with; UNITS_SUSPECT; EVIDENCE_INVALID.
 */
export async function prepareSurvey(
  request: GroundRequest,
  context: SurveyContext,
  ownGrid: Placed | undefined,
  onlyPhotos = false,
): Promise<Outcome<SurveyGround>> {
  const startedMs = performance.now();
  const placed = await readBoard(request, ownGrid, onlyPhotos);
  if (!placed.ok) return placed;
  const { board, program, records, findings } = placed.value;
  const { machine, evidence } = request;
  const built = buildEvidence(request.known, evidence, machine?.bed?.material);
  if (!built.ok) return built;
  const outside = evidenceOutsideGrid(program, built.value.evidence);
  if (!outside.ok) return outside;
  const base = {
    schema: MEASUREMENT_SCHEMA_ID as typeof MEASUREMENT_SCHEMA_ID,
    tool: { name: 'gantrue', version: context.toolVersion },
    measuredAt: context.now().toISOString(),
    ...(machine?.name === undefined ? {} : { machine: machine.name }),
    // The gantry of most routers travels along the longer axis, called Y or X.
    gantryAxis: machine?.gantryAxis ?? 'y',
    placements: [...records],
  };
  return success({
    board,
    program,
    built: built.value,
    base,
    findings: [...findings, ...built.value.findings],
    startedMs,
  });
}

/**
 * Points that are measured by themselves bring the grid of their own rows: more bends than these can show
 * would lean on nothing. A program tells how they were approached.
 */
async function readBoard(
  request: GroundRequest,
  own: Placed | undefined,
  onlyPhotos: boolean,
): Promise<Outcome<PlacedAll & Pick<SurveyGround, 'program'>>> {
  if (own !== undefined && request.markedBy.length === 0) {
    return success({ ...own, records: [own.record], program: own.board });
  }
  if (onlyPhotos) {
    const all = await readPlacements(request);
    return all.ok ? success({ ...all.value, program: all.value.board }) : all;
  }
  const placed = await readPlacement(request);
  if (!placed.ok) return placed;
  const { board: program, record, findings } = placed.value;
  if (own === undefined) return success({ board: program, records: [record], findings, program });
  const { linesAtX, linesAtY } = own.record;
  return success({
    board: own.board,
    records: [{ ...record, linesAtX, linesAtY }],
    findings,
    program,
  });
}

/** A length taped to a place that the program never marked was meant for another grid or unit. */
export function evidenceOutsideGrid(
  board: Board,
  evidence: readonly NetworkEvidence[],
): Outcome<undefined> {
  const find = makeNodeFinder(board);
  for (const item of evidence) {
    if (item.kind !== 'length') continue;
    const outside = [item.fromMm, item.toMm].find(([xMm, yMm]) => find.isOutside({ xMm, yMm }));
    if (outside === undefined) continue;
    return failed(
      'EVIDENCE_INVALID',
      `(${outside[0]}, ${outside[1]}) lies outside the grid, ${find.extent}`,
      { where: item.what, hint: 'name commanded crossings of this grid, in mm' },
    );
  }
  return success(undefined);
}
