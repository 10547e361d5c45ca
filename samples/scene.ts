/** What a simulated scene consists of, and the way from a scene to its photos. */

import type { Stroke } from '../shared/stroke.js';
import { type BoardMaterial, type BoardTexture, makeBoardTexture } from './board-texture.js';
import { driftTruth } from './drift-truth.js';
import { gridLines, type MachineErrors } from './machine-errors.js';
import { type MachineTruth, machineTruth } from './machine-truth.js';
import { type MarkIndex, type MarkStyle, makeMarks } from './mark-profile.js';
import { encodePhoto, type PhotoTags } from './photo-file.js';
import { type BoardShape, type CameraStand, cameraFrame, type Lens } from './pinhole-view.js';
import { createRandomSource } from './random-source.js';
import { renderPixels } from './render-photo.js';

export interface BoardLook {
  readonly material: BoardMaterial;
  /** Edges of the board, commanded frame: [X min, Y min, X max, Y max]; mm. */
  readonly edgesMm: readonly [number, number, number, number];
  /** Linear reflectances, red, green, blue. */
  readonly tone: readonly [number, number, number];
  readonly tableTone: readonly [number, number, number];
  /** Spacing of the table's slots, along Y; a plain table where absent. */
  readonly tableSlotsMm?: number;
  /** Bow and twist; a flat board where absent. */
  readonly shape?: BoardShape;
}

/** Something that lies on the board and covers marks, or a round hole in it; of holes and pins the first size is the diameter. */
export interface BoardObject {
  readonly kind: 'rule' | 'clamp' | 'tape' | 'hole' | 'pin';
  readonly centreMm: readonly [number, number];
  readonly sizeMm: readonly [number, number];
  readonly angleRad: number;
  readonly heightMm: number;
  readonly tone: readonly [number, number, number];
}

/** A soft shadow: everything within the half width of a line, or of a point where `round`. */
export interface Shadow {
  readonly round: boolean;
  readonly centreMm: readonly [number, number];
  readonly angleRad: number;
  readonly halfWidthMm: number;
  /** Width of the transition at its edge (standard deviation); mm. */
  readonly softnessMm: number;
  /** Share of the light that it takes away, 0 to 1. */
  readonly depth: number;
}

export interface Lighting {
  /** Mean exposure: the factor between reflectance and the linear picture value. */
  readonly exposure: number;
  /** Relative change of the light per metre of board, along X and along Y. */
  readonly gradientPerM: readonly [number, number];
  /** Loss toward the corner of the frame, 0 to 1. */
  readonly vignetting: number;
  /** A lamp's glow on the board: place, radius (mm), relative strength. */
  readonly glow: {
    readonly atMm: readonly [number, number];
    readonly radiusMm: number;
    readonly strength: number;
  };
  /** Where the raking light stands (mm, board frame): grooves are bright on the wall that faces it. */
  readonly lampMm: readonly [number, number];
  /** Colour of the light: factors for red, green, blue. */
  readonly colour: readonly [number, number, number];
  readonly shadows: readonly Shadow[];
}

export interface PhotoPlan {
  readonly name: string;
  readonly stand: CameraStand;
  readonly lens: Lens;
  /** Standard deviation of the optical blur; px. */
  readonly blurPx: number;
  /** Sensor noise in counts of 255. */
  readonly noiseCounts: number;
  readonly light: Lighting;
  readonly objects: readonly BoardObject[];
  readonly jpegQuality: number;
  readonly orientation: number;
  readonly takenAt: Date;
}

export interface CameraBody {
  readonly make: string;
  readonly model: string;
  readonly widthPx: number;
  readonly heightPx: number;
  /** What the files state about the lens; photos scatter about it. */
  readonly nominalFocalPx: number;
  readonly focalLengthMm: number;
}

/** What the same machine marked on the board after it was turned and clamped again. */
export interface SecondMarking {
  readonly strokes: readonly Stroke[];
  /** Turn of these marks against the first ones on the board, anticlockwise; rad. */
  readonly rotationRad: number;
  /** Where the mark at their commanded origin lies on the board; mm. */
  readonly shiftMm: readonly [number, number];
}

export interface Scene {
  readonly seed: number;
  readonly strokes: readonly Stroke[];
  readonly second?: SecondMarking;
  readonly machine: MachineErrors;
  readonly board: BoardLook;
  readonly marks: MarkStyle;
  readonly camera: CameraBody;
  readonly photos: readonly PhotoPlan[];
}

/** What lies on the board in every photo of a scene alike. */
export interface PreparedBoard {
  readonly look: BoardLook;
  readonly texture: BoardTexture;
  readonly index: MarkIndex;
}

export interface SimulatedPhoto {
  readonly name: string;
  readonly jpeg: Buffer;
}

/** What is true of a scene, in plain data that can be written as JSON. */
export interface SceneTruth extends MachineTruth {
  readonly schema: 'gantrue/simulated-truth/1';
  readonly seed: number;
  readonly machine: MachineErrors;
  readonly marks: MarkStyle;
  readonly grid: { readonly xMm: readonly number[]; readonly yMm: readonly number[] };
  /** Of a board that was marked twice: one for each program, the first with neither turn nor shift. */
  readonly placements?: readonly PlacementTruth[];
  readonly board: BoardLook;
  readonly camera: CameraBody;
  readonly photos: readonly PhotoTruth[];
}

export interface PlacementTruth {
  /** rad, anticlockwise against the first marks on the board. */
  readonly rotation: number;
  /** Where the mark at the commanded origin lies; mm. */
  readonly shift: { readonly x: number; readonly y: number };
  readonly grid: SceneTruth['grid'];
}

export interface PhotoTruth {
  readonly file: string;
  readonly lens: Lens;
  readonly stand: CameraStand;
  /** Rows: the sensor's right, down and forward directions in the board frame. */
  readonly cameraFromBoard: readonly (readonly number[])[];
  readonly positionMm: readonly number[];
  readonly blurPx: number;
  readonly orientation: number;
}

/** Millimetres around the board in which marks are still looked up; bowed boards are seen aslant. */
const INDEX_MARGIN_MM = 5;

/** Renders every photo of a scene. */
export async function renderScene(
  scene: Scene,
): Promise<{ photos: SimulatedPhoto[]; truth: SceneTruth }> {
  const board = prepareBoard(scene);
  const photos: SimulatedPhoto[] = [];
  for (let i = 0; i < scene.photos.length; i++) photos.push(await renderPhoto(scene, i, board));
  return { photos, truth: sceneTruth(scene) };
}

/** Works out what all photos of a scene share; the dearer part of a small scene. */
export function prepareBoard(scene: Scene): PreparedBoard {
  const random = createRandomSource(scene.seed).fork('board');
  const [minX, minY, maxX, maxY] = scene.board.edgesMm;
  return {
    look: scene.board,
    texture: makeBoardTexture(
      scene.board.material,
      maxX - minX,
      maxY - minY,
      random.fork('texture'),
    ),
    index: makeMarks(
      scene.strokes,
      scene.machine,
      scene.marks,
      [
        minX - INDEX_MARGIN_MM,
        minY - INDEX_MARGIN_MM,
        maxX + INDEX_MARGIN_MM,
        maxY + INDEX_MARGIN_MM,
      ],
      random.fork('marks'),
      scene.second,
    ),
  };
}

/** Renders and encodes one photo. */
export async function renderPhoto(
  scene: Scene,
  photoIndex: number,
  board: PreparedBoard = prepareBoard(scene),
): Promise<SimulatedPhoto> {
  const plan = photoPlan(scene, photoIndex);
  const random = createRandomSource(scene.seed).fork(`photo ${photoIndex}`);
  const { widthPx, heightPx } = scene.camera;
  const pixels = renderPixels(board, plan, widthPx, heightPx, random);
  const jpeg = await encodePhoto(pixels, widthPx, heightPx, plan.jpegQuality, tagsOf(scene, plan));
  return { name: plan.name, jpeg };
}

/** The plan of one photo; a fault of the caller if there is none. */
export function photoPlan(scene: Scene, photoIndex: number): PhotoPlan {
  const plan = scene.photos[photoIndex];
  if (!plan) throw new RangeError(`the scene has no photo ${photoIndex}`);
  return plan;
}

export function sceneTruth(scene: Scene): SceneTruth {
  return {
    schema: 'gantrue/simulated-truth/1',
    seed: scene.seed,
    // A machine that marks in two positions of the board is measured over all its lines.
    ...machineTruth(scene.machine, allStrokes(scene)),
    drift: driftTruth(scene.machine, scene.strokes),
    machine: scene.machine,
    marks: scene.marks,
    grid: gridLines(scene.strokes),
    ...placementsOf(scene),
    board: scene.board,
    camera: scene.camera,
    photos: scene.photos.map((plan) => {
      const frame = cameraFrame(plan.stand);
      return {
        file: plan.name,
        lens: plan.lens,
        stand: plan.stand,
        cameraFromBoard: [frame.right, frame.down, frame.forward],
        positionMm: frame.positionMm,
        blurPx: plan.blurPx,
        orientation: plan.orientation,
      };
    }),
  };
}

function allStrokes({ strokes, second }: Scene): readonly Stroke[] {
  return second === undefined ? strokes : [...strokes, ...second.strokes];
}

function placementsOf({ strokes, second }: Scene): Pick<SceneTruth, 'placements'> {
  if (second === undefined) return {};
  const { rotationRad, shiftMm } = second;
  return {
    placements: [
      { rotation: 0, shift: { x: 0, y: 0 }, grid: gridLines(strokes) },
      {
        rotation: rotationRad,
        shift: { x: shiftMm[0], y: shiftMm[1] },
        grid: gridLines(second.strokes),
      },
    ],
  };
}

function tagsOf(scene: Scene, plan: PhotoPlan): PhotoTags {
  return {
    make: scene.camera.make,
    model: scene.camera.model,
    focalLengthMm: scene.camera.focalLengthMm,
    focalLengthIn35mmFilm: equivalentFocalLength(scene.camera),
    orientation: plan.orientation,
    takenAt: plan.takenAt,
  };
}

/** Diagonal of the 36 x 24 mm frame, to which the equivalent focal length refers. */
const FILM_DIAGONAL_MM = Math.hypot(36, 24);

/** The whole number that a file states as 35 mm equivalent. */
export function equivalentFocalLength(camera: CameraBody): number {
  const diagonalPx = Math.hypot(camera.widthPx, camera.heightPx);
  return Math.round((camera.nominalFocalPx * FILM_DIAGONAL_MM) / diagonalPx);
}
