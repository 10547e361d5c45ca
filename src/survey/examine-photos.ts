/** All photos of a request, one after the other or side by side, and the words where none is of use. */

import { basename } from 'node:path';
import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import { viewOfPlacement } from '../marks/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import type { Usable } from './adjust-photos.js';
import type { Board } from './board.js';
import { examinePhoto, type PhotoFate, type PhotosBefore, type Said } from './examine-photo.js';
import {
  canWorkSideBySide,
  type Examiner,
  type ExaminersGround,
  examineSideBySide,
} from './examine-side-by-side.js';
import { type Joining, joinPhotos, type OpenPhoto, type PlacedPhoto } from './join-photos.js';
import { recordLeftOut, recordMeasured } from './photo-records.js';
import { type SettledTurns, settleTurns } from './settle-turns.js';
import type { SurveyContext, SurveyRequest } from './survey-request.js';

/** Fewer segments than this in a photo fix no pose: it is left out. */
const FEWEST_SEGMENTS = 20;

/**
 * One after the other, or side by side; what a photo must know of those before it, it waits for, so that
 * the outcome is the same. The earliest one that is in work waits for none.
 *
 * Fails: WORKER_LOST.
 */
async function examinePhotos(
  request: Pick<SurveyRequest, 'photoFiles' | 'origin' | 'crossings'>,
  given: Board,
  context: Pick<SurveyContext, 'onProgress' | 'workers'>,
): Promise<Outcome<{ fates: PhotoFate[]; board: Board }>> {
  const { photoFiles, origin, crossings } = request;
  const said: Said = {
    ...(origin === undefined ? {} : { origin }),
    ...(crossings === undefined ? {} : { crossings }),
  };
  const total = photoFiles.length;
  const read = photoFiles.map(() => promised<string | undefined>());
  const done = photoFiles.map(() => promised<PhotoFate>());
  const examine = async (i: number, by: Examiner): Promise<Outcome<PhotoFate>> => {
    const path = photoFiles[i];
    const before: PhotosBefore = {
      twinOf: async (sha256) => {
        read[i].keep(sha256);
        const earlier = await Promise.all(read.slice(0, i).map(({ kept }) => kept));
        const twin = earlier.indexOf(sha256);
        return twin < 0 ? undefined : basename(photoFiles[twin]);
      },
      board: () => boardAfter(done.slice(0, i), given),
    };
    const outcome = await by(path, before, (step) =>
      context.onProgress?.({ step, done: i + 1, total, what: basename(path) }),
    );
    if (!outcome.ok) return outcome;
    const fate = refuseSparse(outcome.value);
    read[i].keep(fate.sha256);
    done[i].keep(fate);
    return success(fate);
  };
  const workers = Math.min(context.workers ?? 1, total);
  const examined =
    workers > 1 && canWorkSideBySide()
      ? await examineSideBySide(photoFiles, { board: given, said }, workers, examine)
      : await examineInTurn(photoFiles, { board: given, said }, examine);
  if (!examined.ok) return examined;
  return success({ fates: examined.value, board: await boardAfter(done, given) });
}

async function examineInTurn(
  paths: readonly string[],
  { board, said }: ExaminersGround,
  examine: (index: number, by: Examiner) => Promise<Outcome<PhotoFate>>,
): Promise<Outcome<PhotoFate[]>> {
  const fates: PhotoFate[] = [];
  for (const i of paths.keys()) {
    const fate = await examine(i, async (path, before, onStep) =>
      success(await examinePhoto(path, board, said, before, onStep)),
    );
    if (!fate.ok) return fate;
    fates.push(fate.value);
  }
  return success(fates);
}

/** Where two programs marked it, the first photo that shows both tells where its marks cross. */
async function boardAfter(
  photos: readonly { readonly kept: Promise<PhotoFate> }[],
  given: Board,
): Promise<Board> {
  if (given.second === undefined) return given;
  for (const { kept } of photos) {
    const { outcome } = await kept;
    if (outcome.ok && outcome.value.second !== undefined) return outcome.value.second.board;
  }
  return given;
}

interface Promised<T> {
  readonly kept: Promise<T>;
  /** Of several times the first one counts. */
  readonly keep: (value: T) => void;
}

function promised<T>(): Promised<T> {
  let keep: Promised<T>['keep'] = () => {};
  const kept = new Promise<T>((resolve) => {
    keep = resolve;
  });
  return { kept, keep };
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

/** Fails: WORKER_LOST. */
export async function settlePhotos(
  request: Pick<SurveyRequest, 'photoFiles' | 'origin' | 'crossings'>,
  given: Board,
  context: Pick<SurveyContext, 'onProgress' | 'workers'>,
): Promise<Outcome<SettledPhotos>> {
  const all = await examinePhotos(request, given, context);
  if (!all.ok) return all;
  const { fates, board } = all.value;
  const examined = fates.flatMap((fate, index) =>
    fate.outcome.ok ? [{ fate, index, examined: fate.outcome.value }] : [],
  );
  const { photos, unsettled, orientation, findings } = settleTurns(
    examined.map((one) => one.examined),
    board.segments,
  );
  for (const k of unsettled) fates[examined[k].index] = refuseTurn(fates[examined[k].index]);
  const settled: Usable[] = examined
    .map((one, k) => ({ ...one, examined: photos[k] }))
    .filter((_, k) => !unsettled.includes(k));
  const open = [
    ...unsettled.flatMap((k) => openTurn(examined[k], board)),
    ...fates.flatMap(({ path, open: view }, index) => (view ? [{ index, path, view }] : [])),
  ];
  const joining = await joinPhotos(
    orientation === 'open' ? [] : trusted(settled).map(placedPhoto),
    open,
    board,
    async ({ index, path }, told) => {
      const tell = (step: string) => {
        const total = fates.length;
        context.onProgress?.({ step, done: index + 1, total, what: basename(path) });
      };
      const alone: PhotosBefore = { twinOf: async () => undefined, board: async () => board };
      return refuseSparse(await examinePhoto(path, board, { ...request, told }, alone, tell));
    },
  );
  for (const { index } of open) {
    fates[index] =
      joining.placed.get(index) ?? refuseJoin(fates[index], whyNotJoined(joining, index));
  }
  const usable = [
    ...settled,
    ...[...joining.placed].flatMap(([index, fate]) =>
      fate.outcome.ok ? [{ fate, index, examined: fate.outcome.value }] : [],
    ),
  ].sort((a, b) => a.index - b.index);
  const records = fates.map((fate, index) => {
    const used = usable.find((one) => one.index === index);
    return used === undefined ? recordLeftOut(fate) : recordMeasured(fate, used.examined, board);
  });
  return success({ board, fates, records, usable, orientation, findings });
}

/** What others are laid on: photos that place themselves; only where there is none, those settled together. */
function trusted(settled: readonly Usable[]): readonly Usable[] {
  const certain = settled.filter(({ examined }) => examined.certain);
  return certain.length > 0 ? certain : settled;
}

function placedPhoto({ fate, examined }: Usable): PlacedPhoto {
  return { path: fate.path, map: examined.marks.map };
}

/** Its lattice, that other photos may tell the turn of. */
function openTurn({ fate, index, examined }: Usable, { strokes }: Board): OpenPhoto[] {
  const view = viewOfPlacement(strokes, examined.marks.map, examined.photo);
  return view === undefined ? [] : [{ index, path: fate.path, view }];
}

interface Reason {
  readonly message: string;
  readonly hint: string;
}

function whyNotJoined({ misfits, contradiction }: Joining, index: number): Reason {
  if (contradiction !== undefined) {
    const name = basename(contradiction);
    return {
      message: `by the bare board that they share, ${name} lies elsewhere on the other placed photos than by its marks`,
      hint: `state a crossing in ${name}, or leave it out`,
    };
  }
  if (misfits.has(index)) {
    return {
      message: 'where the bare board lays it on a placed photo, its own marks do not fit',
      hint: 'leave it out if the board was moved or marked again between the photos',
    };
  }
  return {
    message:
      'the bare board tells no more: it shares too little of it with photos whose place is known',
    hint: 'take it so that it shares a third of its cells or more with a photo whose place is known',
  };
}

/** No other photo tells its place: why, and what would. */
function refuseJoin(fate: PhotoFate, why: Reason): PhotoFate {
  if (fate.outcome.ok) return fate;
  const { message, hint, figures } = fate.outcome.failure;
  return {
    ...fate,
    outcome: failed('GRID_AMBIGUOUS', `${message}; ${why.message}`, {
      where: fate.path,
      hint: hint === undefined ? why.hint : `${hint}; or ${why.hint}`,
      figures,
    }),
  };
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
  const refused = fates.flatMap(({ path, outcome }) =>
    outcome.ok ? [] : [{ path, failure: outcome.failure }],
  );
  const hints = new Set(refused.map(({ failure }) => failure.hint));
  const isCommon = hints.size === 1;
  const [common] = isCommon ? hints : ['what to do about each stands below it'];
  const reasons = refused.flatMap(({ path, failure: { message, code, hint } }) => [
    `${basename(path)}: ${message} [${code}]`,
    ...(isCommon || hint === undefined ? [] : [`  to do: ${hint}`]),
  ]);
  return failed('NO_USABLE_PHOTO', `none of the photos can be used\n  ${reasons.join('\n  ')}`, {
    ...(common === undefined ? {} : { hint: common }),
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
