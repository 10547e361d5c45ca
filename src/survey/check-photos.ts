/** Verdict on photos: found and looked at as in a survey, nothing solved, nothing written. */

import { PHOTO_CHECK_SCHEMA_ID, type PhotoCheck } from '../../shared/schemas/photo-check.js';
import { focalLengthPx } from '../imaging/index.js';
import { sampleSegments } from '../marks/index.js';
import { estimateView } from '../network/index.js';
import { lookAlikeRotations } from '../program/index.js';
import { type Failure, type Outcome, success } from '../quantity/index.js';
import type { Usable } from './adjust-photos.js';
import { type Board, isTurnedEnough } from './board.js';
import { noUsablePhoto, type SettledPhotos, settlePhotos } from './examine-photos.js';
import { groupCameras } from './group-cameras.js';
import { judgePhotoSet, type KnownTurn, type PhotoOfSet } from './judge-photo-set.js';
import { readPlacements } from './read-placement.js';
import type { SurveyContext, SurveyRequest } from './survey-request.js';

export interface CheckedPhotos {
  readonly check: PhotoCheck;
  /** Where no photo can be used: NO_USABLE_PHOTO with every photo's reason; of a single photo its own. */
  readonly failure?: Failure;
}

/**
 * Quicker than a survey: a sample of the marks is measured (all of them where the grid looks the same
 * after a turn, since then the marks' own departures tell the turns), and nothing is adjusted or drawn.
 *
 * Fails: what reading the program fails with; WORKER_LOST.
 */
export async function checkPhotos(
  request: SurveyRequest,
  context: SurveyContext,
): Promise<Outcome<CheckedPhotos>> {
  const placed = await readPlacements(request);
  if (!placed.ok) return placed;
  const { records: placements, findings } = placed.value;
  const board = withSample(placed.value.board);
  const examined = await settlePhotos(request, board, context);
  if (!examined.ok) return examined;
  const settled = examined.value;
  const { fates, records, usable } = settled;
  const check: PhotoCheck = {
    schema: PHOTO_CHECK_SCHEMA_ID,
    tool: { name: 'gantrue', version: context.toolVersion },
    checkedAt: context.now().toISOString(),
    program: placements.map(({ program }) => program).join(', '),
    photos: [...records],
    set: judgePhotoSet(
      describeSet(usable, records),
      knownTurn(settled),
      isTurnedEnough(settled.board),
    ),
    findings: [...findings, ...settled.findings],
  };
  return success(usable.length > 0 ? { check } : { check, failure: noUsablePhoto(fates).failure });
}

function withSample(board: Board): Board {
  // Each of two programs is found by its own marks, and few of them are as quick as a sample.
  if (board.second !== undefined) return board;
  const turns = lookAlikeRotations(board.grid, board.strokes);
  return turns.length > 0 ? board : { ...board, sample: sampleSegments(board.segments) };
}

function describeSet(
  usable: readonly Usable[],
  records: readonly PhotoCheck['photos'][number][],
): PhotoOfSet[] {
  const { cameraOf, crossed } = groupCameras(usable.map(({ examined }) => examined.photo));
  return usable.map(({ index, examined: { photo, marks } }, i) => {
    const focalPx = focalLengthPx(photo.exif, photo.widthPx, photo.heightPx);
    // Of the reading that was settled on, which may be another than the first.
    const view = estimateView(marks.map.homography, photo, focalPx);
    const { verdict } = records[index];
    if (verdict === undefined) throw new Error('a measured photo has no verdict');
    return {
      verdict,
      ...(view === undefined ? {} : { rollRad: view.rollRad }),
      isCrossed: crossed[i],
      camera: cameraOf[i],
      hasFocalLength: focalPx !== undefined,
    };
  });
}

/** A half turn that is open for all photos together, or for each, leaves open which way up; not the quarter. */
function knownTurn({ orientation, usable }: SettledPhotos): KnownTurn {
  if (orientation !== 'open') return 'whole';
  const isHalf = usable.every(({ examined }) =>
    examined.readings.every(({ turnDeg }) => turnDeg % 180 === 0),
  );
  return isHalf ? 'half' : 'none';
}
