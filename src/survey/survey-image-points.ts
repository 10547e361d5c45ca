/** Points of the grid that other software found in photos → a measurement, or the calibration of the camera. */

import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import { drivePeriods } from '../machine/index.js';
import { type Adjustment, adjust, estimateMachine, type NetworkInput } from '../network/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { networkLayout } from './adjust-photos.js';
import type { Board } from './board.js';
import { concludeSurvey } from './conclude-survey.js';
import { doubtApproach } from './doubt-approach.js';
import { doubtCameraTerms } from './doubt-camera-terms.js';
import { makeNodeFinder } from './find-nodes.js';
import { openForKnownGrid } from './open-quantities.js';
import { recordAdjusted } from './photo-records.js';
import { type ImagePoint, type PlacedImagePoints, placeImagePoints } from './place-image-points.js';
import { checkRulePhotos } from './place-rules.js';
import { gridOfPoints } from './points-grid.js';
import { prepareSurvey } from './prepare-survey.js';
import { type ImagePointsFile, readImagePoints } from './read-image-points.js';
import type { ImagePointsRequest, Survey, SurveyContext } from './survey-request.js';
import { weighImagePoints } from './weigh-image-points.js';

/**
 * Measures without pictures.
 *
 * Fails: IMAGE_POINTS_INVALID; what reading the program fails with; UNITS_SUSPECT; EVIDENCE_INVALID, also for rules
 * in pictures; NO_CONVERGENCE.
 */
export async function surveyImagePoints(
  request: ImagePointsRequest,
  context: SurveyContext,
): Promise<Outcome<Survey>> {
  const { camera, isGridKnown } = request;
  const read = await readImagePoints(request.imagePointsFile);
  if (!read.ok) return read;
  const file = read.value;
  const ownGrid = gridOfPoints([{ name: file.name, nodes: file.points }]);
  const prepared = await prepareSurvey(request, context, ownGrid);
  if (!prepared.ok) return prepared;
  const ground = prepared.value;
  const { board, program, built, base, findings } = ground;
  const ruled = checkRulePhotos(built.rules, []);
  if (!ruled.ok) return ruled;
  const approached = findApproaches(file, program);
  if (!approached.ok) return approached;
  const layout = networkLayout(board, base.gantryAxis, drivePeriods(request.machine));
  const placed = placeImagePoints(approached.value, layout, camera);
  if (!placed.ok) return placed;

  context.onProgress?.({ step: 'adjusting' });
  const { photoNames, photos, segments, observations } = placed.value;
  const adjusted = adjust({
    layout,
    cameras: [camera],
    photos,
    placements: [{ rotationRad: 0, shiftMm: [0, 0] }],
    segments,
    observations,
    evidence: built.evidence,
    beliefs: beliefsOf(request),
  });
  if (!adjusted.ok) return explain(adjusted, request);
  const adjustment = adjusted.value;
  const all = estimateMachine(adjustment);
  const weighed = weighImagePoints(adjustment, placed.value, file);
  findings.push(...weighed.findings, ...doubtCameraTerms(adjustment));
  const measurement = concludeSurvey(
    ground,
    {
      adjustment,
      estimates: isGridKnown ? openForKnownGrid(all) : doubtApproach(all, { segments }),
      photos: recordPhotos(adjustment, placed.value, board),
      photoNames,
      makes: [],
      imagePoints: weighed.record,
    },
    request,
  );
  return success({ measurement, photos: [] });
}

/** Fails: IMAGE_POINTS_INVALID where a point was never commanded. */
function findApproaches({ name, points }: ImagePointsFile, program: Board): Outcome<ImagePoint[]> {
  const find = makeNodeFinder(program);
  const outside = points.find((point) => find.isOutside(point));
  if (outside !== undefined) {
    return failed(
      'IMAGE_POINTS_INVALID',
      `line ${outside.sourceLine}: (${outside.xMm}, ${outside.yMm}) lies outside the grid, ${find.extent}`,
      { where: name, hint: 'give commanded positions of this program in x and y, in mm' },
    );
  }
  return success(
    points.map((point) => ({
      ...point,
      approachX: find.approach(point, 'x'),
      approachY: find.approach(point, 'y'),
    })),
  );
}

function beliefsOf({
  cameraTerms,
  isGridKnown,
}: ImagePointsRequest): NonNullable<NetworkInput['beliefs']> {
  return {
    ...(cameraTerms === undefined ? {} : { cameraTerms, commonVariance: true }),
    ...(isGridKnown ? { onlyMachineTerms: [] } : {}),
  };
}

/** Without priors a term that the photos do not show has no value at all. */
function explain(
  outcome: Extract<Outcome<unknown>, { ok: false }>,
  { cameraTerms }: ImagePointsRequest,
): Extract<Outcome<unknown>, { ok: false }> {
  if (cameraTerms === undefined) return outcome;
  const { code, message, figures } = outcome.failure;
  return failed(code, message, {
    hint: `with --camera-terms nothing but the points fixes the camera: name fewer terms than ${cameraTerms.join(',')}, or add photos tilted in several directions`,
    figures,
  });
}

function recordPhotos(
  adjustment: Adjustment,
  { photoNames, observations }: PlacedImagePoints,
  board: Board,
): PhotoRecord[] {
  const { widthPx, heightPx } = adjustment.network.input.cameras[0]!;
  const size = { widthPx, heightPx };
  return photoNames.map((file, photo) => {
    const lines = observations.flatMap((seen) => (seen.photo === photo ? [seen.sourceLine] : []));
    const segmentsFound = new Set(lines).size;
    const view = { adjustment, photo, stored: size, turn: 0 } as const;
    const { corners, ...record } = recordAdjusted(
      { file, used: true, ...size, segmentsFound },
      view,
      board,
    );
    // Beyond the picture the lens was never seen.
    const isSeen = corners?.every(
      ({ u, v }) => u >= 0 && v >= 0 && u <= widthPx - 1 && v <= heightPx - 1,
    );
    return { ...record, ...(isSeen ? { corners: corners! } : {}) };
  });
}
