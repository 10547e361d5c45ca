/** All photos of a request, one after the other, and the words where none is of use. */

import { basename } from 'node:path';
import { failed } from '../quantity/index.js';
import type { Usable } from './adjust-photos.js';
import { type Board, examinePhoto, type PhotoFate } from './examine-photo.js';
import type { SurveyContext, SurveyRequest } from './survey-request.js';

/** Fewer segments than this in a photo fix no pose: it is left out. */
const FEWEST_SEGMENTS = 20;

export async function examinePhotos(
  request: Pick<SurveyRequest, 'photoFiles' | 'origin' | 'crossings'>,
  board: Board,
  context: Pick<SurveyContext, 'onProgress'>,
): Promise<PhotoFate[]> {
  const fates: PhotoFate[] = [];
  const seen = new Map<string, string>();
  const total = request.photoFiles.length;
  for (const [i, path] of request.photoFiles.entries()) {
    const fate = await examinePhoto(path, board, request, seen, (step) =>
      context.onProgress?.({ step, done: i + 1, total, what: basename(path) }),
    );
    if (fate.sha256 !== undefined && !seen.has(fate.sha256)) {
      seen.set(fate.sha256, basename(path));
    }
    fates.push(refuseSparse(fate));
  }
  return fates;
}

export function listExamined(fates: readonly PhotoFate[]): Usable[] {
  return fates.flatMap((fate, index) =>
    fate.outcome.ok ? [{ fate, index, examined: fate.outcome.value }] : [],
  );
}

export function refuseTurn(fate: PhotoFate): PhotoFate {
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
  const count = fate.outcome.value.marks.observations.length;
  if (count >= FEWEST_SEGMENTS) return fate;
  return {
    ...fate,
    outcome: failed('GRID_NOT_FOUND', `only ${count} stretches of the marks are to be seen`, {
      where: fate.path,
      hint: 'clear the board, take the whole grid into the picture, light it evenly',
    }),
  };
}
