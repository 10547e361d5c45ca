/** Writes the photos of a simulated machine into a folder, and the truth beside them. */

import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Stroke } from '../shared/stroke.js';
import { type RandomSceneOptions, randomScene } from './random-scene.js';
import { prepareBoard, renderPhoto, type Scene, type SceneTruth, sceneTruth } from './scene.js';
import { type TapedLength, tapedLengthText } from './taped-length.js';

export interface SimulateRequest {
  readonly strokes: readonly Stroke[];
  readonly seed: number;
  /** Folder to write into; made where it is missing, files of the same name overwritten. */
  readonly outDir: string;
  readonly options?: Partial<RandomSceneOptions>;
  /** Told after each photo. */
  readonly onPhoto?: (file: string, done: number, total: number) => void;
}

export interface Simulation {
  /** Paths written, in order: photos, truth.json, evidence.yaml. */
  readonly files: readonly string[];
  readonly truth: SceneTruth;
  readonly taped: TapedLength;
  /** The taped length as `X1,Y1 X2,Y2 LENGTH U`. */
  readonly known: string;
}

/** Draws a scene for the strokes, renders it and writes everything. */
export async function simulate(request: SimulateRequest): Promise<Simulation> {
  const { scene, taped } = randomScene(request.seed, request.strokes, request.options);
  await mkdir(request.outDir, { recursive: true });
  const files = await writePhotos(scene, request.outDir, request.onPhoto);
  const truth = sceneTruth(scene);
  const truthFile = join(request.outDir, 'truth.json');
  await writeFile(truthFile, truthText(truth, [taped]));
  const evidenceFile = join(request.outDir, 'evidence.yaml');
  await writeFile(evidenceFile, evidenceText(scene, taped));
  files.push(truthFile, evidenceFile);
  return { files, truth, taped, known: tapedLengthText(taped) };
}

/** Renders the photos of a scene one after the other and writes each at once. */
export async function writePhotos(
  scene: Scene,
  outDir: string,
  onPhoto?: SimulateRequest['onPhoto'],
): Promise<string[]> {
  const board = prepareBoard(scene);
  const files: string[] = [];
  for (let i = 0; i < scene.photos.length; i++) {
    const { name, jpeg } = await renderPhoto(scene, i, board);
    const file = join(outDir, name);
    await writeFile(file, jpeg);
    files.push(file);
    onPhoto?.(file, files.length, scene.photos.length);
  }
  return files;
}

export function truthText(truth: SceneTruth, taped: readonly TapedLength[]): string {
  return `${JSON.stringify({ ...truth, taped }, undefined, 2)}\n`;
}

function evidenceText(scene: Scene, taped: TapedLength): string {
  const taken = scene.photos[0]?.takenAt.toISOString().slice(0, 10);
  return [
    ...(taken ? [`taken: ${taken}`] : []),
    'temperature: 20',
    'lengths:',
    `  - { from: [${taped.fromMm}], to: [${taped.toMm}], length: ${taped.lengthMm}, u: ${taped.uMm} }`,
    '',
  ].join('\n');
}
