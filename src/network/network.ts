/** The unknowns of a measurement and where each sits in the vector of parameters. */

import {
  type MachineModel,
  type MachineTerm,
  type MachineTermKind,
  machineModel,
} from '../machine/index.js';
import { BOARD_PRIOR_MM, BOARD_TERMS, type BoardSurface, boardSurface } from './board-surface.js';
import {
  CAMERA_SIZE,
  CAMERA_TERMS,
  CENTRE,
  DISTORTION_CENTRE,
  POSE_TERMS,
  WANDER_TERMS,
} from './camera-model.js';
import type { CameraTerm, NetworkBeliefs, NetworkInput } from './network-input.js';
import { ParameterTable } from './parameter-table.js';
import { type PictureWarp, pictureWarp, WARP_SIZE } from './picture-warp.js';
import { isCameraFree, isPictureBent } from './placement-turns.js';
import { poseFromHomography, scanFocalLength } from './start-poses.js';

export interface Network {
  readonly input: NetworkInput;
  readonly machine: MachineModel;
  readonly table: ParameterTable;
  /** Indices of the observations of every segment. */
  readonly observationsOf: readonly (readonly number[])[];
  /** Indices of the machine's terms for each placement: 0, 1, … for all that share a machine. */
  readonly machineAt: readonly Int32Array[];
  /** Index of the first parameter of each camera, photo and placement. */
  readonly cameraAt: readonly number[];
  readonly wanderAt: readonly number[];
  readonly poseAt: readonly number[];
  /** Of each photo's bend beyond the camera's model; none where the cameras are believed. */
  readonly warpAt: readonly number[];
  readonly warp: PictureWarp;
  /** Rotation, shift x, shift y; -1 for the first placement, which is the datum. */
  readonly placementAt: readonly number[];
  /** Index of the first term of the board's shape. */
  readonly boardAt: number;
  readonly surface: BoardSurface;
  /** The common scale of the tape; -1: no tape with a class. */
  readonly tapeAt: number;
  /** The common scale of the rules; -1: their scale is not in doubt. */
  readonly ruleAt: number;
  /** The common error of the rules' heights in their standard uncertainties; -1: no rules. */
  readonly ruleHeightAt: number;
  /** The scale of the instrument that measured a placement's marks on the board; -1: not in doubt. */
  readonly instrumentAt: readonly number[];
}

/** Values of the parameters, and the rotation matrices that the three pose angles are steps from. */
export interface NetworkState {
  readonly values: Float64Array;
  readonly rotations: readonly Float64Array[];
}

/**
 * Standard deviations of what is believed of a phone's camera before the adjustment. Pixel values hold
 * at a focal length of 3000 px and scale with it. From a numerical study of overhead networks:
 * narrower ones report less than they deliver.
 */
const CAMERA_PRIOR = {
  focalFromExif: 0.02,
  focalUnknown: 0.5,
  principalPointPx: 30,
  distortionCentrePx: 30,
  radial: 0.5,
  decentring: 1e-3,
  pixelShape: 3e-4,
  lensShape: 2e-4,
  wanderFocal: 3e-3,
  wanderPrincipalPointPx: 15,
  wanderPixelShape: 1e-4,
} as const;
const PRIOR_FOCAL_PX = 3000;
/**
 * The same where nothing is believed. Pose and a free shape of the pixels make any homography, whatever focal
 * length and principal point are: these keep what EXIF or a search gave. Cropping moves the distortion centre by some
 * hundreds of pixels.
 */
const FREE_CAMERA = { pixelShape: 0.2, distortionCentrePx: 450, decentring: 1e-2 } as const;
/** What screws and racks keep while guides and scales change: placements with machines of their own share it. */
const LASTING: readonly MachineTermKind[] = ['line', 'rung', 'periodic'];
/** First guess of the size of a picture's bend, px; re-estimated from the data. */
const WARP_SIGMA_PX = 1;

/** Poses are free: a prior far beyond any, to keep the table uniform. */
const FREE = Number.POSITIVE_INFINITY;
/**
 * A camera term without a prior: so many times wider that no digit of a result tells, and not infinite, so
 * that the equations of too few photos can still be solved and show what they leave open.
 */
const LOOSE = 1e3;
/** A term that is not adjusted: held this tightly, in its own unit, far below anything that is measured. */
export const HELD = 1e-9;

/** Whether the marks are taken to lie exactly where the machine's terms say. */
export function isMarksKnown({ beliefs }: NetworkInput): boolean {
  return beliefs?.onlyMachineTerms !== undefined;
}

/**
 * A camera's values. Where its distortion centre is not a term of its own, it is the principal point.
 */
export function cameraValues(
  { input, cameraAt }: Pick<Network, 'input' | 'cameraAt'>,
  { values }: Pick<NetworkState, 'values'>,
  camera: number,
): Float64Array {
  const at = cameraAt[camera];
  const own = values.slice(at, at + CAMERA_SIZE);
  if (isCentreTied(input)) own.set(own.subarray(CENTRE, CENTRE + 2), DISTORTION_CENTRE);
  return own;
}

export function isCentreTied({ beliefs }: NetworkInput): boolean {
  return beliefs?.cameraTerms?.includes('centreU') === false;
}

/** The values of a placement's machine terms. */
export function machineValuesOf(
  { machineAt }: Pick<Network, 'machineAt'>,
  { values }: Pick<NetworkState, 'values'>,
  placement: number,
): Float64Array {
  return Float64Array.from(machineAt[placement], (p) => values[p]);
}

/** @returns undefined where a photo's homography is mirrored or behind the camera. */
export function buildNetwork(
  input: NetworkInput,
): { network: Network; state: NetworkState } | undefined {
  const machine = machineModel(input.layout);
  const table = new ParameterTable();
  const only = input.beliefs?.onlyMachineTerms;
  const addTerm = ({ kind, priorSigma }: MachineTerm, name: string) =>
    table.add(name, 'machine', 0, only === undefined || only.includes(kind) ? priorSigma : HELD);
  const shared = Int32Array.from(machine.terms, (term) => addTerm(term, term.name));
  const machineAt = input.placements.map((_, i) =>
    i === 0 || input.beliefs?.machinePerPlacement !== true
      ? shared
      : shared.map((own, k) => {
          const term = machine.terms[k];
          return LASTING.includes(term.kind) ? own : addTerm(term, `${term.name}, placement ${i}`);
        }),
  );
  const isFree = isCameraFree(input);
  const isBent = isPictureBent(input);

  const focals = input.cameras.map(
    (camera, i) =>
      camera.focalLengthPx ??
      scanFocalLength(
        camera,
        input.photos.filter((photo) => photo.camera === i),
      ),
  );
  const cameraAt = input.cameras.map((camera, i) =>
    addCamera(table, camera, focals[i], i, input.beliefs?.cameraTerms, isFree),
  );
  const wanderAt: number[] = [];
  const poseAt: number[] = [];
  const warpAt: number[] = [];
  for (const [i, photo] of input.photos.entries()) {
    const size = focals[photo.camera] / PRIOR_FOCAL_PX;
    const prior = CAMERA_PRIOR;
    wanderAt.push(table.size);
    const sigmas = [
      prior.wanderFocal,
      prior.wanderPrincipalPointPx * size,
      prior.wanderPrincipalPointPx * size,
      isFree ? FREE_CAMERA.pixelShape : prior.wanderPixelShape,
      isFree ? FREE_CAMERA.pixelShape : prior.wanderPixelShape,
    ].map((sigma) => (input.beliefs?.cameraTerms === undefined ? sigma : HELD));
    WANDER_TERMS.forEach((term, k) => {
      table.add(`photo ${i} ${term}`, 'wander', 0, sigmas[k]);
    });
    poseAt.push(table.size);
    for (const term of POSE_TERMS) table.add(`photo ${i} ${term}`, 'pose', 0, FREE);
    if (!isBent) continue;
    warpAt.push(table.size);
    for (let k = 0; k < WARP_SIZE; k++) {
      table.add(`photo ${i} bend ${k}`, 'warp', 0, WARP_SIGMA_PX * size);
    }
  }
  const placementAt = input.placements.map((_, i) => {
    if (i === 0) return -1;
    const at = table.size;
    for (const term of ['rotation', 'shiftX', 'shiftY']) {
      table.add(`placement ${i} ${term}`, 'placement', 0, FREE);
    }
    return at;
  });
  const addDoubt = (name: string, u: number) => (u > 0 ? table.add(name, 'evidence', 0, u) : -1);
  const tapeAt = addDoubt(
    'tape scale',
    Math.max(0, ...input.evidence.map((e) => (e.kind === 'length' ? e.tapeScaleU : 0))),
  );
  const ruleAt = addDoubt(
    'rule scale',
    Math.max(0, ...input.evidence.map((e) => (e.kind === 'rule' ? e.ruleScaleU : 0))),
  );
  const ruleHeightAt = addDoubt(
    'rule height',
    input.evidence.some((e) => e.kind === 'rule' && e.heightUMm > 0) ? 1 : 0,
  );
  const instrumentAt = input.placements.map(({ instrumentScaleU }, i) =>
    addDoubt(`placement ${i} instrument scale`, instrumentScaleU ?? 0),
  );
  const boardAt = table.size;
  const bend = isMarksKnown(input) ? HELD : BOARD_PRIOR_MM;
  for (const term of BOARD_TERMS) table.add(`board ${term}`, 'board', 0, bend);
  const surface = boardSurface(input.layout);
  const observationsOf: number[][] = input.segments.map(() => []);
  input.observations.forEach(({ segment }, i) => {
    observationsOf[segment].push(i);
  });
  const network = {
    input,
    observationsOf,
    machine,
    table,
    machineAt,
    cameraAt,
    wanderAt,
    poseAt,
    warpAt,
    warp: pictureWarp(input),
    placementAt,
    boardAt,
    surface,
    tapeAt,
    ruleAt,
    ruleHeightAt,
    instrumentAt,
  };

  const state = startState(network, focals);
  return state === undefined ? undefined : { network, state };
}

function addCamera(
  table: ParameterTable,
  camera: NetworkInput['cameras'][number],
  focal: number,
  index: number,
  free: NetworkBeliefs['cameraTerms'],
  isFree: boolean,
): number {
  const at = table.size;
  const prior = CAMERA_PRIOR;
  const size = focal / PRIOR_FOCAL_PX;
  const known = camera.focalLengthPx !== undefined;
  const centre = [(camera.widthPx - 1) / 2, (camera.heightPx - 1) / 2];
  const principal = prior.principalPointPx * size;
  const distortion = (isFree ? FREE_CAMERA : prior).distortionCentrePx * size;
  const means = [focal, centre[0], centre[1], 0, 0, 0, 0, 0, centre[0], centre[1], 0, 0, 0, 0];
  const sigmas = [
    focal * (known || isFree ? prior.focalFromExif : prior.focalUnknown),
    principal,
    principal,
    prior.radial,
    prior.radial,
    prior.radial,
    (isFree ? FREE_CAMERA : prior).decentring,
    (isFree ? FREE_CAMERA : prior).decentring,
    distortion,
    distortion,
    prior.pixelShape,
    prior.pixelShape,
    prior.lensShape,
    prior.lensShape,
  ];
  CAMERA_TERMS.forEach((term, k) => {
    const distorts = (k >= 3 && k <= 9) as boolean;
    table.add(
      `camera ${index} ${term}`,
      distorts ? 'distortion' : 'sharedCamera',
      means[k],
      sigmas[k] * (free === undefined ? 1 : free.includes(term) ? LOOSE : 0) || HELD,
    );
  });
  return at;
}

function startState(network: Network, focals: readonly number[]): NetworkState | undefined {
  const { input, table, cameraAt, poseAt, placementAt } = network;
  const values = table.initialValues();
  const isAdjusted = (term: CameraTerm) => input.beliefs?.cameraTerms?.includes(term) !== false;
  const rotations: Float64Array[] = [];
  for (const [i, photo] of input.photos.entries()) {
    const focal = focals[photo.camera];
    const [centreU, centreV] = photo.centrePx;
    const start = poseFromHomography(photo.homography, focal, centreU, centreV);
    if (start === undefined) return undefined;
    rotations.push(start.pose.rotation);
    values[poseAt[i] + 3] = start.pose.a;
    values[poseAt[i] + 4] = start.pose.b;
    values[poseAt[i] + 5] = start.pose.rho;
  }
  for (const [i, at] of cameraAt.entries()) {
    const own = input.photos.filter((photo) => photo.camera === i);
    for (const photo of own) {
      const unit = focals[i] / photo.radiusPx;
      if (isAdjusted('k1')) values[at + 3] += (photo.k1 * unit ** 2) / own.length;
      if (isAdjusted('k2')) values[at + 4] += (photo.k2 * unit ** 4) / own.length;
    }
  }
  for (const [i, placement] of input.placements.entries()) {
    if (placementAt[i] < 0) continue;
    values[placementAt[i]] = placement.rotationRad;
    values[placementAt[i] + 1] = placement.shiftMm[0];
    values[placementAt[i] + 2] = placement.shiftMm[1];
  }
  return { values, rotations };
}
