/**
 * Whether intervals hold what they promise: boards whose cameras are drawn from the very distributions
 * that the adjustment believes in, measured without pictures. Drawing and projecting are the scene
 * generator's, whose camera and machine are code of their own.
 */

import { gridProgram, type Lens, type MachineTruth, type Scene } from '../../samples/index.js';
import { createRandomSource } from '../../samples/random-source.js';
import type { Quantity } from '../../shared/schemas/measurement.js';
import {
  type Adjustment,
  adjust,
  estimateMachine,
  foretell,
  type MachineEstimates,
} from '../../src/network/index.js';
import { type SimulatedNetwork, simulateNetwork } from './simulated-network.js';

export interface CoveragePlan {
  readonly rolls: readonly number[];
  readonly tiltDeg: readonly [number, number];
  readonly lensState: 'corrected' | 'raw';
  /** Bow and twist, standard deviations, mm. */
  readonly boardMm?: number;
  /** Share of the board's sides that one photo shows; all where absent. */
  readonly partial?: number;
}

const ROLLS = [0, 90, 180, 270] as const;
const EIGHT = [...ROLLS, ...ROLLS];

export const COVERAGE_PLANS: Record<string, CoveragePlan> = {
  'one photo': { rolls: [0], tiltDeg: [0, 1], lensState: 'corrected' },
  'two, a quarter turn apart': { rolls: [0, 90], tiltDeg: [0, 2], lensState: 'corrected' },
  'four rolls': { rolls: ROLLS, tiltDeg: [1, 3], lensState: 'corrected' },
  'four rolls, tilted': { rolls: ROLLS, tiltDeg: [15, 20], lensState: 'corrected' },
  'eight overhead': { rolls: EIGHT, tiltDeg: [0, 2], lensState: 'corrected' },
  'eight overhead, raw lens': { rolls: EIGHT, tiltDeg: [0, 2], lensState: 'raw' },
  'eight partial views': { rolls: EIGHT, tiltDeg: [0, 3], lensState: 'corrected', partial: 0.65 },
  'eight overhead, bowed and twisted': {
    rolls: EIGHT,
    tiltDeg: [0, 2],
    lensState: 'corrected',
    boardMm: 0.5,
  },
};

/** What the adjustment believes of cameras, written down once more: standard deviations. */
const BELIEF = {
  focal: 0.02,
  principalPx: 30,
  distortionCentrePx: 30,
  decentring: 1e-3,
  pixelShape: 3e-4,
  lensShape: 2e-4,
  photoFocal: 3e-3,
  photoPrincipalPx: 15,
  photoPixelShape: 1e-4,
} as const;
/** They hold at this focal length, px. */
const BELIEF_FOCAL_PX = 3000;

const NOISE = { sigmaPx: 0.03, sigmaMarkMm: 0.02 };

export interface Verdict {
  readonly name: string;
  readonly state: Quantity['state'];
  readonly error: number;
  readonly u: number;
  /** What the same photos and marks allow at best, their noise being known: the Cramér–Rao bound. */
  readonly bound: number;
  readonly truth: number;
}

const POSITIONS = (count: number) => Array.from({ length: count }, (_, i) => 60 * i);

/**
 * Measures one drawn board.
 *
 * @param wander factor on what single photos depart from their camera by; 1: as believed.
 * @returns every quantity with its true error; empty where the adjustment failed.
 */
export function measureDrawnBoard(plan: CoveragePlan, seed: number, wander = 1): Verdict[] {
  const { input, truth } = drawBoard(plan, seed, wander);
  return judgeBoard(input, truth);
}

/** Every quantity of a network with its true error; empty where the adjustment failed. */
export function judgeBoard(input: SimulatedNetwork['input'], truth: MachineTruth): Verdict[] {
  const outcome = adjust(input);
  if (!outcome.ok) return [];
  const pairs = pairUp(estimateMachine(outcome.value), truth);
  const bounds = pairUp(estimateMachine(withTrueNoise(outcome.value)), truth);
  const uOf = (quantity: Quantity) => (quantity.state === 'undetermined' ? Number.NaN : quantity.u);
  return pairs.map(([name, quantity, value], i) => ({
    name,
    state: quantity.state,
    error: quantity.state === 'undetermined' ? Number.NaN : quantity.value - value,
    u: uOf(quantity),
    bound: uOf(bounds[i]![1]),
    truth: value,
  }));
}

function pairUp(
  e: MachineEstimates,
  truth: MachineTruth,
): readonly (readonly [string, Quantity, number])[] {
  return [
    ['squareness', e.squareness, truth.squareness],
    ['ratio', e.scale.ratio, truth.scale.ratio],
    ['scale x', e.scale.x, truth.scale.x],
    ['scale y', e.scale.y, truth.scale.y],
    ['lost motion x', e.lostMotion.x, truth.lostMotion.x],
    ['lost motion y', e.lostMotion.y, truth.lostMotion.y],
    ['straightness x', e.straightness.x, truth.straightness.x],
    ['straightness y', e.straightness.y, truth.straightness.y],
    ['racking', e.racking, truth.racking],
  ];
}

/** The matrices as they would be if the noise were known and nothing had been dropped. */
function withTrueNoise({ network, state, stochastic }: Adjustment): Adjustment {
  const ideal = foretell(network, state, {
    sigmaPx: stochastic.sigmaPx.map(() => NOISE.sigmaPx),
    keep: stochastic.keep.map(() => 1),
    photoFactor: stochastic.photoFactor.map(() => 1),
    sigmaMarkMm: stochastic.sigmaMarkMm.map(() => NOISE.sigmaMarkMm),
    markLikeness: stochastic.markLikeness.map(() => 1),
    keepSegment: stochastic.keepSegment.map(() => 1),
  });
  if (ideal === undefined) throw new Error('what was adjusted can be foretold');
  return ideal;
}

export interface BoardChoices {
  /** The machine's errors, from the drawn ones. */
  readonly errors?: (drawn: Scene['machine']) => Scene['machine'];
  readonly gantryAxis?: 'x' | 'y';
  /** The phone is that of the board with this seed; one of the board's own where absent. */
  readonly phoneSeed?: number;
}

/** The network of a drawn board, and the truth. */
export function drawBoard(
  plan: CoveragePlan,
  seed: number,
  wander = 1,
  { errors, gantryAxis, phoneSeed }: BoardChoices = {},
): SimulatedNetwork {
  const random = createRandomSource(phoneSeed ?? seed).fork('believed camera');
  const ofPhotos =
    phoneSeed === undefined ? random : createRandomSource(seed).fork('photos of a known phone');
  const { strokes } = gridProgram({ xMm: POSITIONS(13), yMm: POSITIONS(9) });
  const nominal = 3000;
  const focal = nominal * (1 + BELIEF.focal * random.normal());
  const bend = (sigma: number) => sigma * random.normal();
  const boardMm =
    plan.boardMm === undefined
      ? undefined
      : ([bend(plan.boardMm), bend(plan.boardMm), bend(plan.boardMm)] as const);
  return simulateNetwork({
    ...NOISE,
    seed,
    strokes,
    focalKnown: true,
    exifFocalPx: nominal,
    taped: true,
    scene: {
      rolls: plan.rolls,
      tiltDeg: plan.tiltDeg,
      lensState: plan.lensState,
      ...(gantryAxis === undefined ? {} : { gantryAxis }),
    },
    ...(errors === undefined ? {} : { errors }),
    ...(boardMm === undefined ? {} : { boardMm }),
    prepare: (scene) => drawCameras(scene, plan, focal, wander, random, ofPhotos),
  });
}

function drawCameras(
  scene: Scene,
  plan: CoveragePlan,
  focalPx: number,
  wander: number,
  random: ReturnType<typeof createRandomSource>,
  ofPhotos: ReturnType<typeof createRandomSource>,
): Scene {
  const { widthPx, heightPx } = scene.camera;
  const size = focalPx / BELIEF_FOCAL_PX;
  const near = (middle: number, sigma: number) => middle + sigma * random.normal();
  const middle = [(widthPx - 1) / 2, (heightPx - 1) / 2] as const;
  const raw = plan.lensState === 'raw';
  const shared = {
    principal: middle.map((m) => near(m, BELIEF.principalPx * size)),
    aspect: near(0, BELIEF.pixelShape),
    skew: near(0, BELIEF.pixelShape),
  };
  const fixed = {
    k1: raw ? near(-0.1, 0.02) : near(0, 0.02),
    k2: raw ? near(0.03, 0.01) : near(0, 0.006),
    k3: near(0, 0.003),
    p1: near(0, BELIEF.decentring),
    p2: near(0, BELIEF.decentring),
    distortionCentrePx: [
      near(middle[0], BELIEF.distortionCentrePx * size),
      near(middle[1], BELIEF.distortionCentrePx * size),
    ] as const,
    lensAspect: near(0, BELIEF.lensShape),
    lensSkew: near(0, BELIEF.lensShape),
  };
  const [minX, minY, maxX, maxY] = scene.board.edgesMm;
  return {
    ...scene,
    photos: scene.photos.map((photo, i) => {
      const wandered = (middle: number, sigma: number) => middle + sigma * ofPhotos.normal();
      const lens: Lens = {
        ...fixed,
        focalPx: focalPx * (1 + wandered(0, wander * BELIEF.photoFocal)),
        principalPx: [
          wandered(shared.principal[0]!, wander * BELIEF.photoPrincipalPx * size),
          wandered(shared.principal[1]!, wander * BELIEF.photoPrincipalPx * size),
        ],
        pixelAspect: wandered(shared.aspect, wander * BELIEF.photoPixelShape),
        pixelSkew: wandered(shared.skew, wander * BELIEF.photoPixelShape),
      };
      // As if the phone had been held for a camera in the middle of the belief, with some room.
      const distance = photo.stand.distanceMm * (1.05 * (focalPx / photo.lens.focalPx));
      if (plan.partial === undefined) {
        return { ...photo, lens, stand: { ...photo.stand, distanceMm: distance } };
      }
      const side = (1 - plan.partial) / 2;
      const aim = [
        (minX + maxX) / 2 + (i % 4 < 2 ? -1 : 1) * side * (maxX - minX),
        (minY + maxY) / 2 + (i % 4 === 0 || i % 4 === 3 ? -1 : 1) * side * (maxY - minY),
      ] as const;
      const stand = { ...photo.stand, aimMm: aim, distanceMm: distance * plan.partial };
      return { ...photo, lens, stand };
    }),
  };
}

export interface CoverageRow {
  readonly quantity: string;
  /** Share of boards on which it was told at all. */
  readonly told: number;
  readonly inside: number;
  readonly scatter: number;
  readonly meanU: number;
  /** Median of U / (2 × scatter). */
  readonly honesty: number;
  /** Scatter over the bound. */
  readonly overBound: number;
}

/** One row per quantity. */
export function tabulate(boards: readonly (readonly Verdict[])[]): CoverageRow[] {
  const names = boards.find((board) => board.length > 0)?.map(({ name }) => name) ?? [];
  return names.map((quantity) => {
    const all = boards.flatMap((board) => board.filter(({ name }) => name === quantity));
    const told = all.filter(({ state }) => state !== 'undetermined');
    const scatter = Math.sqrt(told.reduce((sum, { error }) => sum + error ** 2, 0) / told.length);
    const sorted = told.map(({ u }) => u).sort((a, b) => a - b);
    return {
      quantity,
      told: told.length / boards.length,
      inside: told.filter(({ error, u }) => Math.abs(error) <= 1.96 * u).length / told.length,
      scatter,
      meanU: sorted.reduce((sum, u) => sum + 2 * u, 0) / told.length,
      honesty: sorted[sorted.length >> 1]! / scatter,
      overBound:
        scatter / Math.sqrt(told.reduce((sum, { bound }) => sum + bound ** 2, 0) / told.length),
    };
  });
}
