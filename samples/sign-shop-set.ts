/**
 * The committed sample: a sign maker's router that drifted out of square. The beam leads at its +X
 * end, X was set by a short test piece and travels too far, and the two racks of Y have some play.
 */

import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type GridProgram, gridProgram } from './grid-program.js';
import type { MachineErrors } from './machine-errors.js';
import { machineTruth } from './machine-truth.js';
import { randomScene } from './random-scene.js';
import { type PhotoPlan, type Scene, type Shadow, sceneTruth } from './scene.js';
import { truthText, writePhotos } from './simulate.js';
import { type TapedLength, tapeLength } from './taped-length.js';

export interface SampleSet {
  readonly program: GridProgram;
  readonly scene: Scene;
  readonly taped: readonly TapedLength[];
}

const SEED = 20261120;
/** What the photos shall be found to say, over the grid's lines. */
const SQUARENESS_RAD = 0.85e-3;
const SCALE_X = 1.3e-3;
const SCALE_Y = -0.6e-3;
/** The tape reads long by this: well within class II at a metre. */
const TAPE_SCALE = 6e-5;
const READING_U_MM = 0.2;

/** The sample's program, scene and taped lengths; nothing is rendered yet. */
export function signShopSet(): SampleSet {
  const program = gridProgram({ title: 'bed grid, 30 mm' });
  const { strokes } = program;
  const drawn = randomScene(SEED, strokes, {
    lensState: 'corrected',
    markKind: 'burnt',
    shadows: false,
    objects: false,
    marks: { widthMm: 0.6, edgeWanderMm: 0.03, strength: 0.88, haloStrength: 0.25 },
    jpegQuality: 90,
  }).scene;
  const machine = setOverGrid({ ...drawn.machine, ...STORY }, { ...drawn });
  const scene: Scene = {
    ...drawn,
    machine,
    board: { ...drawn.board, material: 'mdf', tone: [0.44, 0.315, 0.195] },
    photos: drawn.photos.map(dressPhoto),
  };
  // One person's errors of reading, by eye to a tenth of a millimetre.
  const taped = [
    tapeLength(scene, [0, 0], [720, 0], READING_U_MM, 720 * TAPE_SCALE + 0.11),
    tapeLength(scene, [0, 0], [720, 480], READING_U_MM, 865.3 * TAPE_SCALE - 0.07),
  ].map((length) => ({ ...length, lengthMm: Math.round(length.lengthMm * 10) / 10 }));
  return { program, scene, taped };
}

/** Writes the sample: photos, program, machine, evidence, truth. */
export async function writeSampleSet(
  outDir: string,
  onPhoto?: (file: string, done: number, total: number) => void,
): Promise<string[]> {
  const { program, scene, taped } = signShopSet();
  await mkdir(outDir, { recursive: true });
  const files = await writePhotos(scene, outDir, onPhoto);
  const texts: Record<string, string> = {
    'bed-grid.ngc': program.text,
    'machine.yaml': MACHINE_FILE,
    'evidence.yaml': evidenceFile(taped),
    'truth.json': truthText(sceneTruth(scene), taped),
  };
  for (const [name, text] of Object.entries(texts)) {
    await writeFile(join(outDir, name), text);
    files.push(join(outDir, name));
  }
  return files;
}

const STORY = {
  lostMotionXMm: 0.06,
  lostMotionYMm: 0.14,
  // A bow of 0.06 mm from end to end of the beam (P2 spans 1.5 of its coefficient), Y nearly straight.
  straightnessX: { fromMm: 0, toMm: 720, legendre: [0, 0, 0.04] },
  straightnessY: { fromMm: 0, toMm: 480, legendre: [0, 0, 0.006, 0.005] },
  yaw: { fromMm: 0, toMm: 480, legendre: [0, 4e-5, -2e-5] },
  drivesMiddleMm: 360,
} satisfies Partial<MachineErrors>;

/** Sets scale and squareness so that they hold over the grid's lines, single deviations included. */
function setOverGrid(machine: MachineErrors, { strokes }: Pick<Scene, 'strokes'>): MachineErrors {
  const bare = { ...machine, scaleX: 0, scaleY: 0, squarenessRad: 0 };
  const { scale, squareness } = machineTruth(bare, strokes);
  return {
    ...machine,
    scaleX: SCALE_X - scale.x,
    scaleY: SCALE_Y - scale.y,
    squarenessRad: SQUARENESS_RAD - squareness,
  };
}

const GANTRY_SHADOW: Shadow = {
  round: false,
  centreMm: [0, 455],
  angleRad: 0.06,
  halfWidthMm: 95,
  softnessMm: 14,
  depth: 0.42,
};
const OPERATOR_SHADOW: Shadow = {
  round: true,
  centreMm: [800, 120],
  angleRad: 0,
  halfWidthMm: 240,
  softnessMm: 45,
  depth: 0.34,
};

/**
 * Two photos with a shadow, one with a clamp left on the far corner, one with the tag of the photo
 * before: a phone held flat does not notice every turn.
 */
function dressPhoto(photo: PhotoPlan, index: number): PhotoPlan {
  const shadows = index === 2 ? [GANTRY_SHADOW] : index === 5 ? [OPERATOR_SHADOW] : [];
  const clamp = {
    kind: 'clamp',
    centreMm: [721, 474],
    sizeMm: [62, 30],
    angleRad: 0.7,
    heightMm: 18,
    tone: [0.27, 0.05, 0.04],
  } as const;
  return {
    ...photo,
    light: { ...photo.light, shadows },
    objects: index === 6 ? [clamp] : [],
    orientation: index === 4 ? 8 : photo.orientation,
  };
}

function evidenceFile(taped: readonly TapedLength[]): string {
  return [
    '# What was known besides the photos. Lengths in mm, between commanded crossings of the grid.',
    'taken: 2026-11-20',
    'temperature: 19.5',
    'humidity: 48',
    'marked: { date: 2026-11-20, temperature: 19.5, humidity: 48 }',
    `tape: { class: II, reading: ${READING_U_MM} }`,
    'lengths:',
    ...taped.map(
      ({ fromMm, toMm, lengthMm }) =>
        `  - { from: [${fromMm.join(', ')}], to: [${toMm.join(', ')}], length: ${lengthMm.toFixed(1)} }`,
    ),
    'notes: bed surfaced and grid burnt the same morning; racks not touched since spring',
    '',
  ].join('\n');
}

const MACHINE_FILE = `name: Sign shop router
travel: { x: 820, y: 580 }        # mm
gantryAxis: y
homing: { x: '-', y: '-' }
axes:
  x: { drive: screw, stepsPerMm: 320, lead: 5 }
  y: { drive: rack, stepsPerMm: 84.883, pinionTravel: 94.248, drives: 2, driveSpacing: 940 }
limits: { squareness: 0.20, scale: 0.20, lostMotion: 0.05, straightness: 0.10 }   # mm/m, mm/m, mm, mm
bed: { material: mdf }
settings: |
  steps X = {{x.stepsPerMm}}
  steps Y = {{y.stepsPerMm}}
`;
