/** The main job: photos, or nodes measured otherwise, + the program that marked the grid + evidence → a measurement. */

import {
  COVERAGE_FACTOR,
  type EvidenceRecord,
  MEASUREMENT_SCHEMA_ID,
  type Measurement,
  type PhotoRecord,
  type Quantity,
} from '../../shared/schemas/measurement.js';
import { cautions, judge, propose } from '../correction/index.js';
import { drivePeriods } from '../machine/index.js';
import {
  estimateMachine,
  foretellOneMore,
  listCameras,
  type MachineEstimates,
  type NetworkEvidence,
} from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import { adjustPhotos, describeAdjustment, listDoubts } from './adjust-photos.js';
import { buildEvidence } from './build-evidence.js';
import { doubtApproach } from './doubt-approach.js';
import type { Board, ExaminedPhoto, PhotoFate } from './examine-photo.js';
import { noUsablePhoto, settlePhotos } from './examine-photos.js';
import { groupCameras } from './group-cameras.js';
import { type AdjustedView, overlayOf, recordAdjusted, storedFromBoard } from './photo-records.js';
import { placePoints } from './place-points.js';
import { checkRulePhotos, placeRules } from './place-rules.js';
import { gridOfPoints } from './points-grid.js';
import { type Placed, readPlacement } from './read-placement.js';
import { type PointsFile, readPoints } from './read-points.js';
import type { Survey, SurveyContext, SurveyedPhoto, SurveyRequest } from './survey-request.js';
import { weighCamera } from './weigh-camera.js';
import { weighDrift } from './weigh-drift.js';
import { weighPoints } from './weigh-points.js';
import { weighTemperature } from './weigh-temperature.js';

/** Border of the rectified picture around the grid, in gaps between its lines. */
const BORDER_GAPS = 1;

/** How the phone is held against a photo that it should be like, by quarter turns seen from above. */
const TURNED = [
  '',
  ', the phone turned a quarter turn to the left',
  ', the phone turned by half a turn',
  ', the phone turned a quarter turn to the right',
] as const;

/**
 * Measures.
 *
 * Fails: what reading the program fails with; UNITS_SUSPECT, EVIDENCE_INVALID, POINTS_INVALID; NO_USABLE_PHOTO (with
 * the reason of every photo), NO_CONVERGENCE.
 */
export async function survey(
  request: SurveyRequest,
  context: SurveyContext,
): Promise<Outcome<Survey>> {
  const started = performance.now();
  const pointsFiles = await readAllPoints(request.pointsFiles ?? []);
  if (!pointsFiles.ok) return pointsFiles;
  const placed = await readBoard(request, pointsFiles.value);
  if (!placed.ok) return placed;
  const { board, program, record: placement, findings } = placed.value;
  const told = buildEvidence(request.known, request.evidence, request.machine?.bed?.material);
  if (!told.ok) return told;
  const built = told.value;
  const outside = evidenceOutsideGrid(program, built.evidence);
  if (!outside.ok) return outside;
  const named = checkRulePhotos(built.rules, request.photoFiles);
  if (!named.ok) return named;
  const points = placePoints(pointsFiles.value, board, program, built.instrument);
  if (!points.ok) return points;
  findings.push(...built.findings);

  const settled = await settlePhotos(request, board, context);
  const { fates, usable } = settled;
  if (usable.length === 0 && fates.length > 0) return noUsablePhoto(fates);
  findings.push(...settled.findings);
  const rules = placeRules(built.rules, usable);
  if (!rules.ok) return rules;
  findings.push(...rules.value.findings);

  const base = {
    schema: MEASUREMENT_SCHEMA_ID as typeof MEASUREMENT_SCHEMA_ID,
    tool: { name: 'gantrue', version: context.toolVersion },
    measuredAt: context.now().toISOString(),
    ...(request.machine?.name === undefined ? {} : { machine: request.machine.name }),
    gantryAxis: request.machine?.gantryAxis ?? 'y',
    placements: [placement],
  };
  const records = [...settled.records];
  if (settled.orientation !== 'known') {
    findings.push({
      code: 'ORIENTATION_UNKNOWN',
      message: 'the grid looks the same after a turn: which way round it lies is not known',
      hint: 'say in which corner of the picture the origin lies with --origin, or mark a grid with an origin mark',
    });
  }
  if (settled.orientation === 'open') {
    const measurement: Measurement = {
      ...base,
      ...openQuantities(),
      photos: records,
      camera: [],
      deviations: [],
      evidence: listUnusedEvidence([...built.evidence, ...rules.value.rules]),
      verdicts: [],
      proposals: [],
      findings,
      warnings: [],
    };
    const photos = usable.map(({ fate, index, examined }) =>
      surveyedPhoto(fate, index, examined, board, records),
    );
    return finishSurvey(measurement, photos, request);
  }

  context.onProgress?.({ step: 'adjusting' });
  // No machine file: the gantry of most routers travels along the longer axis, called Y or X.
  if (request.machine?.gantryAxis === undefined) {
    findings.push({
      code: 'GANTRY_AXIS_ASSUMED',
      message: 'no machine file says along which axis the gantry travels: Y was assumed',
      hint: 'give a machine file with `gantryAxis` (--machine)',
    });
  }
  const grouped = groupCameras(usable.map(({ examined }) => examined.photo));
  const { groups } = grouped;
  const outcome = adjustPhotos(
    usable,
    board,
    grouped,
    base.gantryAxis,
    drivePeriods(request.machine),
    { evidence: built.evidence, rules: rules.value.rules, points: points.value },
  );
  if (!outcome.ok) return outcome;
  const { adjustment, turns, withoutPoints } = outcome.value;
  const views = usable.map(({ examined }, photo) => ({
    adjustment,
    photo,
    stored: examined.photo,
    turn: turns[photo],
  }));
  const all = estimateMachine(adjustment);
  const turnKnown = settled.orientation === 'known' ? all : knownUpToHalfTurn(all);
  const estimates = usable.length > 0 ? turnKnown : doubtApproach(turnKnown, points.value);
  usable.forEach(({ index }, photo) => {
    records[index] = recordAdjusted(records[index], views[photo], board);
  });
  const ofPoints = weighPoints(adjustment, withoutPoints, points.value, pointsFiles.value);
  findings.push(...ofPoints.findings);
  const evidence = [...estimates.evidence, ...ofPoints.evidence];
  findings.push(...listDoubts(adjustment, usable, evidence));
  const ofCamera = weighCamera(
    adjustment,
    { squareness: estimates.squareness, ratio: estimates.scale.ratio },
    usable.map(({ index }) => records[index].file),
  );
  findings.push(...ofCamera.findings);
  const drifted = weighDrift(
    { ...estimates.scale, ratio: ofCamera.ratio },
    estimates.drift,
    board.grid,
  );
  findings.push(...drifted.findings);
  const weighed = weighTemperature(
    { scale: drifted.scale, deviations: estimates.deviations },
    built.swell,
    request.evidence,
    request.machine,
  );
  if (estimates.board !== undefined) findings.push(...doubtBoard(estimates.board));
  const turned = usable.filter((_, photo) => turns[photo] !== 0).map(({ index }) => records[index]);
  if (turned.length > 0) {
    findings.push({
      code: 'PHOTO_TURNED',
      message:
        'software had turned pictures by a quarter turn; they were measured in the sensor’s own frame',
      hint: 'give photos as the phone saved them, not as a messenger or an editor passed them on',
      where: turned.map(({ file }) => file).join(', '),
    });
  }

  const measurement: Measurement = {
    ...base,
    squareness: ofCamera.squareness,
    scale: weighed.scale,
    ...(weighed.scaleAt20 === undefined ? {} : { scaleAt20: weighed.scaleAt20 }),
    lostMotion: estimates.lostMotion,
    straightness: estimates.straightness,
    ...(estimates.straightnessCurve === undefined
      ? {}
      : { straightnessCurve: estimates.straightnessCurve }),
    racking: estimates.racking,
    periodic: estimates.periodic,
    drift: estimates.drift,
    ...(estimates.board === undefined ? {} : { board: estimates.board }),
    photos: records,
    ...(ofPoints.records.length === 0 ? {} : { points: [...ofPoints.records] }),
    camera: listCameras(adjustment).map((record, i) => ({
      ...(groups[i].make === undefined ? {} : { make: groups[i].make }),
      ...(groups[i].model === undefined ? {} : { model: groups[i].model }),
      ...record,
    })),
    adjustment: {
      ...describeAdjustment(adjustment),
      seconds: (performance.now() - started) / 1000,
      squarenessCorrelation: { ...estimates.squarenessCorrelation },
      oneMore: foretellOneMore(adjustment).map(({ quantity, like, turns, state, U }) => ({
        quantity,
        photo: `like ${records[usable[like].index].file}${TURNED[turns]}`,
        state,
        U: { ...U },
      })),
    },
    deviations: [...weighed.deviations],
    evidence,
    verdicts: [],
    proposals: [],
    findings,
    warnings: [],
  };
  const photos = usable.map(({ fate, index, examined }, photo) =>
    surveyedPhoto(fate, index, examined, board, records, views[photo]),
  );
  return finishSurvey(measurement, photos, request);
}

async function readAllPoints(paths: readonly string[]): Promise<Outcome<PointsFile[]>> {
  const files: PointsFile[] = [];
  for (const path of paths) {
    const read = await readPoints(path);
    if (!read.ok) return read;
    files.push(read.value);
  }
  return success(files);
}

/**
 * Points that are measured by themselves bring the grid of their own rows: more bends than these can show
 * would lean on nothing. A program tells how they were approached.
 */
async function readBoard(
  request: SurveyRequest,
  files: readonly PointsFile[],
): Promise<Outcome<Placed & { readonly program: Board }>> {
  const byThemselves = request.photoFiles.length === 0 && files.length > 0;
  const own = byThemselves ? gridOfPoints(files) : undefined;
  if (own !== undefined && request.markedBy.length === 0) {
    return success({ ...own, program: own.board });
  }
  const placed = await readPlacement(request);
  if (!placed.ok) return placed;
  const { board: program, record, findings } = placed.value;
  if (own === undefined) return success({ ...placed.value, program });
  const { linesAtX, linesAtY } = own.record;
  return success({
    board: own.board,
    record: { ...record, linesAtX, linesAtY },
    findings,
    program,
  });
}

/** A length taped to a place that the program never marked was meant for another grid or unit. */
export function evidenceOutsideGrid(
  board: Board,
  evidence: readonly NetworkEvidence[],
): Outcome<undefined> {
  const span = (lines: Board['grid']['linesAtX']) => {
    const from = lines[0].positionMm;
    const to = lines[lines.length - 1].positionMm;
    return { from, to, gap: (to - from) / (lines.length - 1) };
  };
  const spans = [span(board.grid.linesAtX), span(board.grid.linesAtY)];
  for (const item of evidence) {
    if (item.kind !== 'length') continue;
    for (const end of [item.fromMm, item.toMm]) {
      const off = spans.some(({ from, to, gap }, i) => end[i] < from - gap || end[i] > to + gap);
      if (!off) continue;
      const [x, y] = spans;
      return failed(
        'EVIDENCE_INVALID',
        `(${end[0]}, ${end[1]}) lies outside the grid, which goes from (${x.from}, ${y.from}) to (${x.to}, ${y.to}) mm`,
        { where: item.what, hint: 'name commanded crossings of this grid, in mm' },
      );
    }
  }
  return success(undefined);
}

/** A bow below this, mm, is that of every board and was taken into account. */
const PLAIN_BOARD_MM = 0.3;

function doubtBoard(board: NonNullable<Measurement['board']>): Finding[] {
  const parts = (
    [
      ['bow along X', board.bowX],
      ['bow along Y', board.bowY],
      ['twist', board.twist],
    ] as const
  )
    .filter(([, { value, u }]) => Math.abs(value) > Math.max(PLAIN_BOARD_MM, COVERAGE_FACTOR * u))
    .map(
      ([name, { value, u }]) =>
        `${name} ${value.toFixed(2)} ± ${(COVERAGE_FACTOR * u).toFixed(2)} mm`,
    );
  if (parts.length === 0) return [];
  return [
    {
      code: 'BOARD_NOT_FLAT',
      message: `the board is not flat (${parts.join(', ')}; + where ends or the +X +Y corner stand up); that was taken into account`,
      hint: 'fasten or skim the board, and measure again',
    },
  ];
}

/** A half turn leaves squareness, scales and ranges alone; what has a direction or a place is open. */
function knownUpToHalfTurn(
  all: MachineEstimates,
): Omit<MachineEstimates, 'straightnessCurve'> &
  Partial<Pick<MachineEstimates, 'straightnessCurve'>> {
  const { straightnessCurve: _, ...rest } = all;
  const open = openQuantities();
  return {
    ...rest,
    lostMotion: {
      x: all.lostMotion.x.state === 'undetermined' ? all.lostMotion.x : open.lostMotion.x,
      y: all.lostMotion.y.state === 'undetermined' ? all.lostMotion.y : open.lostMotion.y,
    },
    racking: all.racking.state === 'undetermined' ? all.racking : open.racking,
    periodic: { x: withoutPhase(all.periodic.x), y: withoutPhase(all.periodic.y) },
    drift: {
      x: all.drift.x.state === 'undetermined' ? all.drift.x : open.lostMotion.x,
      y: all.drift.y.state === 'undetermined' ? all.drift.y : open.lostMotion.y,
    },
    deviations: [],
  };
}

function withoutPhase(
  quantity: MachineEstimates['periodic']['x'],
): MachineEstimates['periodic']['x'] {
  const known: typeof quantity & { phase?: number } = { ...quantity };
  delete known.phase;
  return known;
}

function openQuantities(): Pick<
  Measurement,
  'squareness' | 'scale' | 'lostMotion' | 'straightness' | 'racking'
> {
  const open = (): Quantity => ({
    state: 'undetermined',
    reason: 'which way round the grid lies in the picture is not known',
    add: ['say in which corner of the picture the commanded origin lies (--origin)'],
  });
  return {
    squareness: open(),
    scale: { x: open(), y: open(), ratio: open() },
    lostMotion: { x: open(), y: open() },
    straightness: { x: open(), y: open() },
    racking: open(),
  };
}

function listUnusedEvidence(evidence: readonly NetworkEvidence[]): EvidenceRecord[] {
  return evidence.map((item) => {
    const given = item.kind === 'square' ? item.squarenessRad : item.lengthMm;
    return {
      what: item.what,
      given,
      adjusted: given,
      unit: item.kind === 'square' ? 'rad' : 'mm',
      u: item.kind === 'square' ? item.uRad : item.uMm,
    };
  });
}

function surveyedPhoto(
  fate: PhotoFate,
  index: number,
  examined: ExaminedPhoto,
  board: Board,
  records: readonly PhotoRecord[],
  adjusted?: AdjustedView,
): SurveyedPhoto {
  const extent = (lines: Board['grid']['linesAtX']): readonly [number, number] => {
    const from = lines[0].positionMm;
    const to = lines[lines.length - 1].positionMm;
    const border = (BORDER_GAPS * (to - from)) / (lines.length - 1);
    return [from - border, to + border];
  };
  return {
    path: fate.path,
    index,
    orientation: examined.photo.exif.orientation,
    overlay: overlayOf(examined, board, records[index].corners ?? [], adjusted),
    ...(adjusted === undefined ? {} : { imageFromBoard: storedFromBoard(adjusted) }),
    boardExtentMm: { x: extent(board.grid.linesAtX), y: extent(board.grid.linesAtY) },
  };
}

function finishSurvey(
  measurement: Measurement,
  photos: readonly SurveyedPhoto[],
  { machine, evidence }: SurveyRequest,
): Outcome<Survey> {
  const judged = { ...measurement, verdicts: judge(measurement, machine) };
  const proposals = propose(judged, machine, evidence);
  const whole = { ...judged, proposals, warnings: cautions(proposals) };
  return success({ measurement: whole, photos });
}
