/** The main job: photos, or nodes measured otherwise, + the program that marked the grid + evidence → a measurement. */

import type { EvidenceRecord, Measurement, PhotoRecord } from '../../shared/schemas/measurement.js';
import { drivePeriods } from '../machine/index.js';
import {
  type Adjustment,
  estimateMachine,
  foretellOneMore,
  type NetworkEvidence,
  parameterFactor,
} from '../network/index.js';
import { type Finding, type Outcome, success } from '../quantity/index.js';
import { adjustPhotos, networkLayout } from './adjust-photos.js';
import { type Board, isMarkedAgain } from './board.js';
import { concludeSurvey, withVerdicts } from './conclude-survey.js';
import { doubtApproach } from './doubt-approach.js';
import type { ExaminedPhoto, PhotoFate } from './examine-photo.js';
import { noUsablePhoto, settlePhotos } from './examine-photos.js';
import { groupCameras } from './group-cameras.js';
import { knownUpToHalfTurn, openForTurn } from './open-quantities.js';
import {
  type AdjustedView,
  overlayOf,
  recordAdjusted,
  storedFromBoard,
  storedView,
} from './photo-records.js';
import { placePoints } from './place-points.js';
import { checkRulePhotos, placeRules } from './place-rules.js';
import { gridOfPoints } from './points-grid.js';
import { prepareSurvey } from './prepare-survey.js';
import { type PointsFile, readPoints } from './read-points.js';
import type { Survey, SurveyContext, SurveyedPhoto, SurveyRequest } from './survey-request.js';
import { weighFresh } from './weigh-fresh.js';
import { weighMethods } from './weigh-methods.js';
import { weighPoints } from './weigh-points.js';

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
 * the reason of every photo), NO_CONVERGENCE, WORKER_LOST.
 */
export async function survey(
  request: SurveyRequest,
  context: SurveyContext,
): Promise<Outcome<Survey>> {
  const pointsFiles = await readAllPoints(request.pointsFiles ?? []);
  if (!pointsFiles.ok) return pointsFiles;
  const byThemselves = request.photoFiles.length === 0 && pointsFiles.value.length > 0;
  const ownGrid = byThemselves ? gridOfPoints(pointsFiles.value) : undefined;
  const prepared = await prepareSurvey(request, context, ownGrid, pointsFiles.value.length === 0);
  if (!prepared.ok) return prepared;
  const ground = prepared.value;
  const { program, built, base, findings } = ground;
  const named = checkRulePhotos(built.rules, request.photoFiles);
  if (!named.ok) return named;
  const points = placePoints(pointsFiles.value, ground.board, program, built.instrument);
  if (!points.ok) return points;

  const examined = await settlePhotos(request, ground.board, context);
  if (!examined.ok) return examined;
  const settled = examined.value;
  const { fates, usable, board } = settled;
  if (usable.length === 0 && fates.length > 0) return noUsablePhoto(fates);
  findings.push(...settled.findings);
  const rules = placeRules(built.rules, usable);
  if (!rules.ok) return rules;
  findings.push(...rules.value.findings);
  if (settled.orientation !== 'known') findings.push(doubtTurn());
  const records = [...settled.records];
  if (settled.orientation === 'open') {
    const measurement: Measurement = {
      ...base,
      ...openForTurn(),
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
    return success({ measurement: withVerdicts(measurement, request), photos });
  }

  context.onProgress?.({ step: 'adjusting' });
  const grouped = groupCameras(usable.map(({ examined }) => examined.photo));
  const outcome = adjustPhotos(
    usable,
    board,
    grouped,
    networkLayout(board, base.gantryAxis, drivePeriods(request.machine)),
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
  const twoWays = weighMethods(adjustment, estimateMachine(adjustment), usable.length);
  const all = twoWays.estimates;
  const fresh = isMarkedAgain(board) ? weighFresh(adjustment) : undefined;
  if (fresh?.ok === false) return fresh;
  const turnKnown = settled.orientation === 'known' ? all : knownUpToHalfTurn(all);
  usable.forEach(({ index }, photo) => {
    records[index] = recordAdjusted(records[index], views[photo], board);
  });
  const ofPoints = weighPoints(adjustment, withoutPoints, points.value, pointsFiles.value);
  findings.push(...ofPoints.findings);
  const turned = usable.filter((_, photo) => turns[photo] !== 0).map(({ index }) => records[index]);
  if (turned.length > 0) findings.push(doubtTurned(turned));

  const measurement = concludeSurvey(
    ground,
    {
      adjustment,
      estimates: byThemselves ? doubtApproach(turnKnown, points.value) : turnKnown,
      photos: records,
      photoNames: usable.map(({ index }) => records[index].file),
      makes: grouped.groups.map(({ make, model }) => ({
        ...(make === undefined ? {} : { make }),
        ...(model === undefined ? {} : { model }),
      })),
      evidence: [...ofPoints.evidence, ...twoWays.evidence],
      points: ofPoints.records,
      otherMethods: twoWays.others,
      ...(fresh === undefined ? {} : { fresh: fresh.value }),
      // Nodes by themselves have no photo that another one could be like.
      oneMore: (byThemselves ? [] : foretellOneMore(adjustment)).map(
        ({ quantity, like, turns, state, U }) => ({
          quantity,
          photo: `like ${records[usable[like].index].file}${TURNED[turns]}`,
          state,
          U: { ...U },
        }),
      ),
    },
    request,
  );
  const photos = usable.map(({ fate, index, examined }, photo) =>
    surveyedPhoto(fate, index, examined, board, records, views[photo]),
  );
  return success({ measurement, photos, whitened: whitening(adjustment) });
}

/** The factor is dear with many photos, and few results need it. */
function whitening(adjustment: Adjustment): NonNullable<Survey['whitened']> {
  let factor: Float64Array | undefined;
  return (byParameters) => {
    factor ??= parameterFactor(adjustment);
    const n = byParameters.length;
    const independent = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      if (byParameters[i] === 0) continue;
      for (let j = 0; j <= i; j++) independent[j] += byParameters[i] * factor[i * n + j];
    }
    return independent;
  };
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

function doubtTurn(): Finding {
  return {
    code: 'ORIENTATION_UNKNOWN',
    message: 'the grid looks the same after a turn: which way round it lies is not known',
    hint: 'say in which corner of the picture the origin lies with --origin, or mark a grid with an origin mark',
  };
}

function doubtTurned(photos: readonly PhotoRecord[]): Finding {
  return {
    code: 'PHOTO_TURNED',
    message:
      'software had turned pictures by a quarter turn; they were measured in the sensor’s own frame',
    hint: 'give photos as the phone saved them, not as a messenger or an editor passed them on',
    where: photos.map(({ file }) => file).join(', '),
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
    ...(adjusted === undefined
      ? {}
      : { imageFromBoard: storedFromBoard(adjusted), commandedView: storedView(adjusted) }),
    boardExtentMm: { x: extent(board.grid.linesAtX), y: extent(board.grid.linesAtY) },
  };
}
