/** One photo: read it, find the grid, measure its marks. The pixels are let go afterwards. */

import { type Photo, readPhoto } from '../imaging/index.js';
import {
  type CellView,
  findLattice,
  findLatticePair,
  type ImageMap,
  type MeasuredMarks,
  measureSegments,
  type StatedCrossing,
} from '../marks/index.js';
import type { BoardSegment } from '../program/index.js';
import { type Failure, failed, type GreyImage, type Outcome, success } from '../quantity/index.js';
import { type Board, cutTogether, differsFrom, type TwiceMarked } from './board.js';
import { chooseMap } from './choose-map.js';
import { placeCrossings } from './place-crossings.js';
import { type PhotoSight, sightPhoto } from './sight-photo.js';
import type { SurveyRequest } from './survey-request.js';

/** The marks as they read with the grid one way round. */
export interface Reading {
  /** Turn of the program against the first reading, counter-clockwise on the board. */
  readonly turnDeg: 0 | 90 | 180 | 270;
  readonly marks: MeasuredMarks;
}

export interface ExaminedPhoto {
  readonly photo: Omit<Photo, 'grey'>;
  /** More than one where the grid looks the same after a turn. */
  readonly readings: readonly Reading[];
  /** Index of the reading that puts the origin where people said. */
  readonly suggested?: number;
  /** The reading that is used; at first the first. */
  readonly marks: MeasuredMarks;
  /** Of a board that two programs marked: the marks of the second one, and the board as it was cut. */
  readonly second?: { readonly marks: MeasuredMarks; readonly board: Board };
  /** False: the grid looks the same after a turn, and nothing said which way round it lies. */
  readonly certain: boolean;
}

/** What became of a photo: measured, or left out with its reason. */
export interface PhotoFate {
  readonly path: string;
  readonly sha256?: string;
  readonly size?: { readonly widthPx: number; readonly heightPx: number };
  /** What it shows, where it could be read. */
  readonly sight?: PhotoSight;
  /** Its lattice, where what part of the grid it is could not be told: other photos may tell. */
  readonly open?: CellView;
  readonly outcome: Outcome<ExaminedPhoto>;
}

/** A photo that shows fewer of a sample is measured whole: few marks decide whether it can be used. */
const FEWEST_SAMPLED = 60;

/** What people say of the photos. */
export interface Said extends Pick<SurveyRequest, 'origin' | 'crossings'> {
  /** Crossings that other photos tell, sensor px. */
  readonly told?: readonly StatedCrossing[];
}

/** What a photo must know of those before it; asked while it is examined. */
export interface PhotosBefore {
  /** Name of one that is the same file, by its SHA-256. */
  readonly twinOf: (sha256: string) => Promise<string | undefined>;
  /** The board as the first of them that shows two programs' marks cut it; as given where none has. */
  readonly board: () => Promise<Board>;
}

/** Fails (as a fate): what `readPhoto`, `findLattice` and `measureSegments` fail with; PHOTO_DUPLICATE. */
export async function examinePhoto(
  path: string,
  board: Board,
  said: Said,
  before: PhotosBefore,
  onStep: (step: string) => void,
): Promise<PhotoFate> {
  onStep('reading');
  const read = await readPhoto(path);
  if (!read.ok) return { path, outcome: read };
  const { grey, ...photo } = read.value;
  const about = {
    path,
    sha256: photo.sha256,
    size: { widthPx: photo.widthPx, heightPx: photo.heightPx },
  };
  const twin = await before.twinOf(photo.sha256);
  if (twin !== undefined) {
    return {
      ...about,
      outcome: failed('PHOTO_DUPLICATE', `the same picture as ${twin}`, {
        where: path,
        hint: 'a copy adds nothing: give each photo once',
      }),
    };
  }
  onStep('finding');
  const stated = [...placeCrossings(said.crossings ?? [], path, photo), ...(said.told ?? [])];
  if (board.second !== undefined) {
    const outcome = await examinePair(
      grey,
      photo,
      { ...board, second: board.second },
      stated,
      before,
      onStep,
    );
    return { ...about, ...outcome, outcome: located(outcome.outcome, path) };
  }
  let open: CellView | undefined;
  const onOpenPart = (view: CellView) => {
    open = view;
  };
  const found = await findLattice(grey, board.strokes, { stated, onOpenPart });
  if (!found.ok) {
    const sight = sightPhoto(photo, grey, board.grid);
    return {
      ...about,
      sight,
      ...(open === undefined ? {} : { open }),
      outcome: { ok: false, failure: at(found.failure, path) },
    };
  }
  onStep('measuring');
  const readings: Reading[] = [];
  let segments = board.segments;
  const turns = [{ map: found.value.map, rotationDeg: 0 as const }, ...found.value.rivals];
  for (const { map, rotationDeg } of turns) {
    const [looked, marks] = measure(grey, board, map);
    segments = looked;
    if (!marks.ok) {
      const sight = sightPhoto(photo, grey, board.grid, { map });
      return { ...about, sight, outcome: { ok: false, failure: at(marks.failure, path) } };
    }
    readings.push({ turnDeg: rotationDeg, marks: marks.value });
  }
  const { certain } = found.value;
  // Where the program tells which way round it lies, what somebody says cannot overrule it.
  const { origin } = said;
  const named =
    certain || origin === undefined ? undefined : chooseMap(found.value, origin, photo, board.grid);
  const suggested = named && turns.findIndex(({ map }) => map === named);
  const [{ marks }] = readings;
  return {
    ...about,
    sight: sightPhoto(photo, grey, board.grid, { map: found.value.map, marks, segments }),
    outcome: success({
      photo,
      readings,
      ...(suggested === undefined ? {} : { suggested }),
      marks,
      certain,
    }),
  };
}

/** The marks of both programs of a board that was marked twice. */
async function examinePair(
  grey: GreyImage,
  photo: Omit<Photo, 'grey'>,
  given: TwiceMarked,
  stated: ReturnType<typeof placeCrossings>,
  before: PhotosBefore,
  onStep: (step: string) => void,
): Promise<Pick<PhotoFate, 'sight' | 'outcome'>> {
  const found = await findLatticePair(grey, [given, given.second], { stated });
  if (!found.ok) return { sight: sightPhoto(photo, grey, given.grid), outcome: found };
  const { fits, between } = found.value;
  const [{ map }] = fits;
  const board: TwiceMarked = { ...given, ...(await before.board()) };
  const differs = differsFrom(board, between);
  if (differs !== undefined) {
    return { sight: sightPhoto(photo, grey, board.grid, { map }), outcome: differs };
  }
  onStep('measuring');
  const together = cutTogether(board, between);
  const marks: MeasuredMarks[] = [];
  for (const [k, own] of [together, together.second].entries()) {
    const measured = measureSegments(grey, own.segments, fits[k].map);
    if (!measured.ok) {
      return { sight: sightPhoto(photo, grey, board.grid, { map }), outcome: measured };
    }
    marks.push(measured.value);
  }
  const { segments } = together;
  return {
    sight: sightPhoto(photo, grey, board.grid, { map, marks: marks[0], segments }),
    outcome: success({
      photo,
      readings: [{ turnDeg: 0, marks: marks[0] }],
      marks: marks[0],
      second: { marks: marks[1], board: together },
      certain: true,
    }),
  };
}

function located(outcome: Outcome<ExaminedPhoto>, path: string): Outcome<ExaminedPhoto> {
  return outcome.ok ? outcome : { ok: false, failure: at(outcome.failure, path) };
}

/** The marks, and the segments that were looked for. */
function measure(
  grey: GreyImage,
  { segments, sample }: Board,
  map: ImageMap,
): [readonly BoardSegment[], Outcome<MeasuredMarks>] {
  if (sample !== undefined) {
    const marks = measureSegments(grey, sample, map);
    if (marks.ok && marks.value.observations.length >= FEWEST_SAMPLED) return [sample, marks];
  }
  return [segments, measureSegments(grey, segments, map)];
}

/** The same failure with the photo it concerns. */
function at(failure: Failure, path: string): Failure {
  if (failure.where !== undefined) return failure;
  const { code, message, hint, figures, cause } = failure;
  return failed(code, message, {
    where: path,
    ...(hint === undefined ? {} : { hint }),
    figures,
    cause,
  }).failure;
}
