/** All photos of a request, one after the other, and the words where none is of use. */

import { basename } from 'node:path';
import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import { failed } from '../quantity/index.js';
import type { Usable } from './adjust-photos.js';
import type { Board } from './board.js';
import { examinePhoto, type PhotoFate } from './examine-photo.js';
import { recordLeftOut, recordMeasured } from './photo-records.js';
import { type SettledTurns, settleTurns } from './settle-turns.js';
import type { SurveyContext, SurveyRequest } from './survey-request.js';

/** Fewer segments than this in a photo fix no pose: it is left out. */
const FEWEST_SEGMENTS = 20;

async function examinePhotos(
  request: Pick<SurveyRequest, 'photoFiles' | 'origin' | 'crossings'>,
  given: Board,
  context: Pick<SurveyContext, 'onProgress'>,
): Promise<{ fates: PhotoFate[]; board: Board }> {
  const fates: PhotoFate[] = [];
  // Where two programs marked it, the first photo that shows both tells where its marks cross.
  let board = given;
  const seen = new Map<string, string>();
  const total = request.photoFiles.length;
  for (const [i, path] of request.photoFiles.entries()) {
    const fate = await examinePhoto(path, board, request, seen, (step) =>
      context.onProgress?.({ step, done: i + 1, total, what: basename(path) }),
    );
    if (fate.sha256 !== undefined && !seen.has(fate.sha256)) {
      seen.set(fate.sha256, basename(path));
    }
    const judged = refuseSparse(fate);
    if (judged.outcome.ok) board = judged.outcome.value.second?.board ?? board;
    fates.push(judged);
  }
  return { fates, board };
}

/** Photos examined, their turns settled against each other, and what is told of each before anything is solved. */
export interface SettledPhotos extends Pick<SettledTurns, 'orientation' | 'findings'> {
  /** As its segments were measured. */
  readonly board: Board;
  /** One of each photo, in the order given. */
  readonly fates: readonly PhotoFate[];
  readonly records: readonly PhotoRecord[];
  readonly usable: readonly Usable[];
}

export async function settlePhotos(
  request: Pick<SurveyRequest, 'photoFiles' | 'origin' | 'crossings'>,
  given: Board,
  context: Pick<SurveyContext, 'onProgress'>,
): Promise<SettledPhotos> {
  const { fates, board } = await examinePhotos(request, given, context);
  const examined = fates.flatMap((fate, index) =>
    fate.outcome.ok ? [{ fate, index, examined: fate.outcome.value }] : [],
  );
  const { photos, unsettled, orientation, findings } = settleTurns(
    examined.map((one) => one.examined),
    board.segments,
  );
  for (const k of unsettled) fates[examined[k].index] = refuseTurn(fates[examined[k].index]);
  const usable = examined
    .map((one, k) => ({ ...one, examined: photos[k] }))
    .filter((_, k) => !unsettled.includes(k));
  const records = fates.map((fate, index) => {
    const used = usable.find((one) => one.index === index);
    return used === undefined ? recordLeftOut(fate) : recordMeasured(fate, used.examined, board);
  });
  return { board, fates, records, usable, orientation, findings };
}

function refuseTurn(fate: PhotoFate): PhotoFate {
  return {
    ...fate,
    outcome: failed(
      'GRID_AMBIGUOUS',
      'which way round the grid lies in this photo cannot be told',
      {
        where: fate.path,
        hint: 'let the origin mark show, or leave the photo out',
      },
    ),
  };
}

/** NO_USABLE_PHOTO with every photo's reason; of a single photo its own failure. */
export function noUsablePhoto(fates: readonly PhotoFate[]): ReturnType<typeof failed> {
  if (fates.length === 1 && !fates[0].outcome.ok) return fates[0].outcome;
  const reasons = fates.map((fate) =>
    fate.outcome.ok
      ? ''
      : `${basename(fate.path)}: ${fate.outcome.failure.message} [${fate.outcome.failure.code}]`,
  );
  const first = fates[0].outcome;
  return failed('NO_USABLE_PHOTO', `none of the photos can be used\n  ${reasons.join('\n  ')}`, {
    ...(first.ok || first.failure.hint === undefined ? {} : { hint: first.failure.hint }),
    figures: { photos: fates.length },
  });
}

function refuseSparse(fate: PhotoFate): PhotoFate {
  if (!fate.outcome.ok) return fate;
  const { marks, second } = fate.outcome.value;
  // Of two programs each must be seen.
  const count = Math.min(
    marks.observations.length,
    second?.marks.observations.length ?? Number.POSITIVE_INFINITY,
  );
  if (count >= FEWEST_SEGMENTS) return fate;
  return {
    ...fate,
    outcome: failed('GRID_NOT_FOUND', `only ${count} stretches of the marks are to be seen`, {
      where: fate.path,
      hint: 'clear the board, take the whole grid into the picture, light it evenly',
    }),
  };
}
