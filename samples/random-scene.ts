/** Scenes drawn at random: a machine with errors, a board, eight photos from above. */

import type { Stroke } from '../shared/stroke.js';
import { gridLines, type MachineErrors, type SmoothCurve } from './machine-errors.js';
import { type MarkKind, type MarkStyle, placeOnBoard } from './mark-profile.js';
import { cameraFrame, type Lens, pixelFromBoard } from './pinhole-view.js';
import { createRandomSource, type RandomSource } from './random-source.js';
import type {
  BoardLook,
  BoardObject,
  CameraBody,
  Lighting,
  PhotoPlan,
  Scene,
  SecondMarking,
  Shadow,
} from './scene.js';
import { drawTapedLength, type TapedLength } from './taped-length.js';

/** How phone software leaves the picture: straightened, or as the lens drew it. */
export type LensState = 'corrected' | 'raw';

export interface RandomSceneOptions {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Quarter turns of the photos, one entry each. */
  readonly rolls: readonly number[];
  /** Range of the tilt; degrees. */
  readonly tiltDeg: readonly [number, number];
  /** Standard deviations of the departure of single photos from the camera. */
  readonly focalWander: number;
  readonly principalWanderPx: number;
  /** Drawn per seed where absent. */
  readonly lensState?: LensState;
  readonly markKind?: MarkKind;
  /** Replaces some or all of the drawn machine errors. */
  readonly machine?: Partial<MachineErrors>;
  /** Replaces parts of the drawn mark style, lighting, or objects. */
  readonly marks?: Partial<MarkStyle>;
  readonly shadows: boolean;
  readonly objects: boolean;
  /** Stated standard uncertainty of the taped length; mm. */
  readonly tapeUMm: number;
  readonly jpegQuality: number;
  readonly gantryAxis: 'x' | 'y';
  /** What was marked after the board had been turned; one marking where absent. */
  readonly second?: SecondMarking;
  /** Holes and pins of a fixture, the same in every photo. */
  readonly fixture?: readonly BoardObject[];
}

export interface RandomScene {
  readonly scene: Scene;
  readonly taped: TapedLength;
}

export const RANDOM_SCENE_DEFAULTS: RandomSceneOptions = {
  widthPx: 4000,
  heightPx: 3000,
  rolls: [0, 90, 180, 270, 0, 90, 180, 270],
  tiltDeg: [1, 3],
  focalWander: 0.003,
  principalWanderPx: 5,
  shadows: true,
  objects: true,
  tapeUMm: 0.15,
  jpegQuality: 84,
  gantryAxis: 'y',
};

/**
 * Draws a scene for the given strokes. The same seed, strokes and options give the same scene.
 *
 * Positions that a photo must show: the whole board, with 4 to 8 % around it.
 */
export function randomScene(
  seed: number,
  strokes: readonly Stroke[],
  options: Partial<RandomSceneOptions> = {},
): RandomScene {
  const plan = { ...RANDOM_SCENE_DEFAULTS, ...options };
  const random = createRandomSource(seed);
  const machine = {
    ...drawMachine(
      [...strokes, ...(plan.second?.strokes ?? [])],
      plan.gantryAxis,
      random.fork('machine'),
    ),
    ...plan.machine,
  };
  const board = drawBoard(
    [...strokes.flatMap(endsOf), ...placedEnds(plan.second)],
    random.fork('board look'),
  );
  const marks = { ...drawMarkStyle(plan.markKind, random.fork('mark style')), ...plan.marks };
  const { body, lens } = drawCamera(plan, random.fork('camera'));
  const photos = plan.rolls.map((rollDeg, i) =>
    drawPhoto(
      { plan, board, marks, lens, body, rollDeg, index: i },
      random.fork(`photo plan ${i}`),
    ),
  );
  const second = plan.second === undefined ? {} : { second: plan.second };
  const scene = { seed, strokes, ...second, machine, board, marks, camera: body, photos };
  return { scene, taped: drawTapedLength(scene, plan.tapeUMm, random.fork('tape')) };
}

function drawMachine(
  strokes: readonly Stroke[],
  gantryAxis: 'x' | 'y',
  random: RandomSource,
): MachineErrors {
  const { xMm, yMm } = gridLines(strokes);
  const rangeX = travelRange(strokes, xMm, 0);
  const rangeY = travelRange(strokes, yMm, 1);
  const travel = gantryAxis === 'y' ? rangeY : rangeX;
  const beam = gantryAxis === 'y' ? rangeX : rangeY;
  // Orders 2 to 4: a bow, an S, a double bow; together some hundredths of a millimetre.
  const guide = (range: readonly [number, number]): SmoothCurve => ({
    fromMm: range[0],
    toMm: range[1],
    legendre: [0, 0, 0.012 * random.normal(), 0.006 * random.normal(), 0.003 * random.normal()],
  });
  const lines = (atMm: readonly number[]) => {
    const sigmaMm = random.between(0.01, 0.02);
    return { atMm, deviationMm: atMm.map(() => sigmaMm * random.normal()) };
  };
  return {
    scaleX: random.between(-2e-3, 2e-3),
    scaleY: random.between(-2e-3, 2e-3),
    squarenessRad: random.between(-2e-3, 2e-3),
    lostMotionXMm: random.between(0, 0.3),
    lostMotionYMm: random.between(0, 0.3),
    lostMotionGradient: 0,
    positionX: lines(xMm),
    positionY: lines(yMm),
    straightnessX: guide(rangeX),
    straightnessY: guide(rangeY),
    yaw: {
      fromMm: travel[0],
      toMm: travel[1],
      legendre: [0, 5e-5 * random.normal(), 3e-5 * random.normal(), 1e-5 * random.normal()],
    },
    gantryAxis,
    drivesMiddleMm: (beam[0] + beam[1]) / 2,
  };
}

/** From the first to the last line of a grid; without one, as far as the strokes go. */
function travelRange(
  strokes: readonly Stroke[],
  linesMm: readonly number[],
  axis: 0 | 1,
): readonly [number, number] {
  const all =
    linesMm.length > 1
      ? linesMm
      : strokes.flatMap(({ fromMm, toMm }) => [fromMm[axis], toMm[axis]]);
  const from = all.reduce((least, at) => Math.min(least, at), Infinity);
  const to = all.reduce((most, at) => Math.max(most, at), -Infinity);
  return to > from ? [from, to] : [from - 1, from + 1];
}

function endsOf({ fromMm, toMm }: Stroke): (readonly [number, number])[] {
  return [fromMm, toMm];
}

function placedEnds(second: SecondMarking | undefined): [number, number][] {
  if (second === undefined) return [];
  return second.strokes.flatMap(endsOf).map(placeOnBoard(second));
}

function drawBoard(ends: readonly (readonly [number, number])[], random: RandomSource): BoardLook {
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of ends) {
    minX = Math.min(minX, x);
    maxX = Math.max(maxX, x);
    minY = Math.min(minY, y);
    maxY = Math.max(maxY, y);
  }
  const beside = () => random.between(12, 28);
  const material = random.uniform() < 0.65 ? 'mdf' : 'plywood';
  return {
    material,
    edgesMm: [minX - beside(), minY - beside(), maxX + beside(), maxY + beside()],
    tone: material === 'mdf' ? [0.44, 0.315, 0.195] : [0.6, 0.45, 0.285],
    tableTone: random.uniform() < 0.5 ? [0.095, 0.1, 0.11] : [0.19, 0.185, 0.175],
    ...(random.uniform() < 0.4 ? { tableSlotsMm: 60 } : {}),
  };
}

function drawMarkStyle(kind: MarkKind | undefined, random: RandomSource): MarkStyle {
  const drawn = random.uniform();
  const chosen = kind ?? (drawn < 0.6 ? 'burnt' : drawn < 0.8 ? 'groove' : 'chalk');
  const burnt = chosen === 'burnt';
  return {
    kind: chosen,
    widthMm: burnt ? random.between(0.5, 0.8) : random.between(0.8, 1.1),
    edgeWanderMm: random.between(0.02, 0.04),
    wanderLengthMm: random.between(2, 5),
    edgeSoftnessMm: burnt ? 0.08 : 0.04,
    strength: burnt ? random.between(0.8, 0.93) : chosen === 'groove' ? 0.6 : 0.75,
    haloStrength: burnt ? random.between(0.15, 0.35) : 0,
    haloMm: burnt ? random.between(0.5, 0.9) : 0.1,
    unevenness: burnt ? 0.1 : 0.12,
    endBurnMm: burnt ? random.between(0.05, 0.15) : 0,
  };
}

function drawCamera(
  plan: RandomSceneOptions,
  random: RandomSource,
): { body: CameraBody; lens: Lens } {
  const { widthPx, heightPx } = plan;
  const nominalFocalPx = (random.between(0.72, 0.8) * Math.max(widthPx, heightPx)) | 0;
  const scale = Math.max(widthPx, heightPx) / 4000;
  const state = plan.lensState ?? (random.uniform() < 0.6 ? 'corrected' : 'raw');
  const raw = state === 'raw';
  const centre = (): [number, number] => [
    (widthPx - 1) / 2 + 12 * scale * random.normal(),
    (heightPx - 1) / 2 + 12 * scale * random.normal(),
  ];
  return {
    body: {
      make: 'Phone',
      model: 'Main camera',
      widthPx,
      heightPx,
      nominalFocalPx,
      focalLengthMm: 5.4,
    },
    lens: {
      focalPx: nominalFocalPx * (1 + 0.005 * random.normal()),
      principalPx: centre(),
      k1: raw
        ? -random.between(0.08, 0.12)
        : random.between(0.01, 0.03) * Math.sign(random.uniform() - 0.5),
      k2: raw ? random.between(0.02, 0.05) : 0.006 * random.normal(),
      k3: raw ? -random.between(0, 0.01) : 0,
      p1: 2e-4 * random.normal(),
      p2: 2e-4 * random.normal(),
      distortionCentrePx: centre(),
    },
  };
}

interface PhotoSetting {
  readonly plan: RandomSceneOptions;
  readonly board: BoardLook;
  readonly marks: MarkStyle;
  readonly lens: Lens;
  readonly body: CameraBody;
  readonly rollDeg: number;
  readonly index: number;
}

function drawPhoto(setting: PhotoSetting, random: RandomSource): PhotoPlan {
  const { plan, board, marks, body, rollDeg, index } = setting;
  const scale = Math.max(body.widthPx, body.heightPx) / 4000;
  const lens: Lens = {
    ...setting.lens,
    focalPx: setting.lens.focalPx * (1 + plan.focalWander * random.normal()),
    principalPx: [
      setting.lens.principalPx[0] + plan.principalWanderPx * random.normal(),
      setting.lens.principalPx[1] + plan.principalWanderPx * random.normal(),
    ],
  };
  const [minX, minY, maxX, maxY] = board.edgesMm;
  const stand = {
    aimMm: [
      (minX + maxX) / 2 + 6 * random.normal(),
      (minY + maxY) / 2 + 6 * random.normal(),
    ] as const,
    distanceMm: 1,
    tiltRad: (random.between(...plan.tiltDeg) * Math.PI) / 180,
    azimuthRad: random.between(0, 2 * Math.PI),
    rollRad: ((rollDeg + 2 * random.normal()) * Math.PI) / 180,
  };
  const margin = random.between(0.04, 0.08);
  return {
    name: `photo-${index + 1}.jpg`,
    stand: { ...stand, distanceMm: fillingDistance(stand, lens, board, body, margin) },
    lens,
    blurPx: random.between(0.6, 1) * Math.max(0.6, scale),
    noiseCounts: random.between(1, 1.8),
    light: drawLight(plan, board, marks, random),
    objects: [...(plan.objects ? drawObjects(board, random) : []), ...(plan.fixture ?? [])],
    jpegQuality: plan.jpegQuality,
    orientation: orientationTag(rollDeg, random),
    takenAt: new Date(Date.UTC(2026, 10, 20, 10, 2 + 2 * index, Math.floor(random.between(0, 60)))),
  };
}

/** The nearest distance from which the whole board is in the frame with the wanted margin. */
function fillingDistance(
  stand: PhotoPlan['stand'],
  lens: Lens,
  board: BoardLook,
  body: CameraBody,
  margin: number,
): number {
  const [minX, minY, maxX, maxY] = board.edgesMm;
  const places: [number, number][] = [];
  for (let i = 0; i <= 8; i++) {
    const x = minX + ((maxX - minX) * i) / 8;
    const y = minY + ((maxY - minY) * i) / 8;
    places.push([x, minY], [x, maxY], [minX, y], [maxX, y]);
  }
  const fits = (distanceMm: number): boolean => {
    const frame = cameraFrame({ ...stand, distanceMm });
    return places.every(([x, y]) => {
      const seen = pixelFromBoard(lens, frame, x, y, 0);
      if (!seen) return false;
      const room = (margin / 2) * Math.min(body.widthPx, body.heightPx);
      return (
        seen[0] > room &&
        seen[1] > room &&
        seen[0] < body.widthPx - room &&
        seen[1] < body.heightPx - room
      );
    });
  };
  const size = Math.hypot(maxX - minX, maxY - minY);
  let near = size / 4;
  let far = size * 8;
  for (let step = 0; step < 40; step++) {
    const middle = (near + far) / 2;
    if (fits(middle)) far = middle;
    else near = middle;
  }
  return far;
}

function drawLight(
  plan: RandomSceneOptions,
  board: BoardLook,
  marks: MarkStyle,
  random: RandomSource,
): Lighting {
  const [minX, minY, maxX, maxY] = board.edgesMm;
  const inBoard = (): [number, number] => [random.between(minX, maxX), random.between(minY, maxY)];
  const shadows: Shadow[] = [];
  if (plan.shadows && random.uniform() < 0.3) {
    shadows.push({
      round: random.uniform() < 0.5,
      centreMm: inBoard(),
      angleRad: random.between(0, Math.PI),
      halfWidthMm: random.between(60, 160),
      softnessMm: random.between(15, 50),
      depth: random.between(0.2, 0.5),
    });
  }
  const warm = random.between(-0.06, 0.06);
  // A lamp for grooves stands low and far off, aslant to both kinds of lines.
  const lampSide = Math.PI / 4 + (Math.PI / 2) * Math.floor(random.between(0, 4));
  const far = 3 * Math.hypot(maxX - minX, maxY - minY);
  return {
    exposure: random.between(1.0, 1.25),
    gradientPerM: [random.between(-0.35, 0.35), random.between(-0.35, 0.35)],
    vignetting: random.between(0.08, 0.25),
    glow: {
      atMm: inBoard(),
      radiusMm: random.between(120, 260),
      strength: random.between(0, marks.kind === 'burnt' ? 0.3 : 0.15),
    },
    lampMm: [
      (minX + maxX) / 2 + far * Math.cos(lampSide),
      (minY + maxY) / 2 + far * Math.sin(lampSide),
    ],
    colour: [1 + warm, 1, 1 - warm],
    shadows,
  };
}

/** Now and then a clamp or a strip of tape at a corner. */
function drawObjects(board: BoardLook, random: RandomSource): BoardObject[] {
  if (random.uniform() > 0.3) return [];
  const [minX, minY, maxX, maxY] = board.edgesMm;
  const clamp = random.uniform() < 0.5;
  // The corner at the origin stays free: its mark tells how the picture is turned.
  const corner = Math.floor(random.between(0, 3));
  const centreMm: [number, number] = [
    corner === 1 ? minX + 12 : maxX - 12,
    corner === 2 ? minY + 12 : maxY - 12,
  ];
  return [
    {
      kind: clamp ? 'clamp' : 'tape',
      centreMm,
      sizeMm: clamp ? [60, 28] : [90, 25],
      angleRad: random.between(0, Math.PI),
      heightMm: clamp ? 18 : 0.1,
      tone: clamp ? [0.3, 0.05, 0.04] : [0.62, 0.6, 0.5],
    },
  ];
}

/** The tag for each quarter turn; held flat, phones now and then take the turn before. */
function orientationTag(rollDeg: number, random: RandomSource): number {
  const tags = [1, 6, 3, 8];
  const turn = ((Math.round(rollDeg / 90) % 4) + 4) % 4;
  const stale = random.uniform() < 0.2 ? 3 : 0;
  return tags[(turn + stale) % 4]!;
}
