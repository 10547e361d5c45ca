/** A board that the two programs of a turned pair marked, and photos of it from cameras that tell nothing. */

import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import {
  type RandomSceneOptions,
  randomScene,
  renderPhoto,
  type SceneTruth,
  sceneTruth,
  type TurnedPairOptions,
  turnBoard,
} from '../../samples/index.js';
import type { Stroke } from '../../shared/stroke.js';
import { type PlanChoices, writeFlatProgram } from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { type GreyImage, unwrap } from '../../src/quantity/index.js';
import { type Survey, survey } from '../../src/survey/index.js';
import { plan } from '../unit/plan/plan-choices.js';

export interface PlannedPair {
  /** Program text and strokes, of the first and the second position of the board. */
  readonly programs: readonly [PlannedProgram, PlannedProgram];
}

export interface PlannedProgram {
  readonly name: string;
  readonly text: string;
  readonly strokes: readonly Stroke[];
}

export function planPair(travelMm: PlanChoices['travelMm'], spacingMm = 50): PlannedPair {
  const [first, second] = (['first', 'second'] as const).map((placement): PlannedProgram => {
    const name = `${placement}.ngc`;
    const text = writeFlatProgram(plan({ travelMm, spacingMm, turned: true }, placement), name);
    const { strokes } = unwrap(readProgram(text, { name, marking: 'auto', blockDelete: false }));
    return { name, text, strokes };
  });
  return { programs: [first, second] };
}

export interface TurnedPhoto {
  readonly jpeg: Buffer;
  readonly grey: GreyImage;
  readonly truth: SceneTruth;
}

/** @param turn undefined: the second program was never run. */
export async function photographPair(
  { programs: [first, second] }: PlannedPair,
  turn: TurnedPairOptions | undefined,
  seed: number,
  options: Partial<RandomSceneOptions>,
): Promise<TurnedPhoto> {
  const { scene } = randomScene(seed, first.strokes, {
    objects: false,
    ...options,
    ...(turn === undefined ? {} : { second: turnBoard(first.strokes, second.strokes, turn) }),
  });
  const { jpeg } = await renderPhoto(scene, 0);
  // Encoded anew, as by a messenger: nothing is left that tells of the camera.
  const bare = await sharp(jpeg).jpeg({ quality: 92 }).toBuffer();
  const { data, info } = await sharp(bare).greyscale().raw().toBuffer({ resolveWithObject: true });
  const grey = { width: info.width, height: info.height, data: new Uint8Array(data) };
  return { jpeg: bare, grey, truth: sceneTruth(scene) };
}

/** @returns paths of the programs and of the photo. */
export async function writePair(folder: string, { programs }: PlannedPair, jpeg: Buffer) {
  const photo = join(folder, 'board.jpg');
  await writeFile(photo, jpeg);
  const files = await Promise.all(
    programs.map(async ({ name, text }) => {
      const file = join(folder, name);
      await writeFile(file, text);
      return file;
    }),
  );
  return { photo, files };
}

/** What the photo says with both programs named, nothing else known. */
export async function surveyPair(photo: string, files: readonly string[]): Promise<Survey> {
  const request = {
    photoFiles: [photo],
    markedBy: files.map((file) => ({ kind: 'program' as const, file })),
    marking: 'auto' as const,
    blockDelete: false,
    known: [],
  };
  return unwrap(await survey(request, { now: () => new Date(0), toolVersion: '0' }));
}
