/** The network that a grid, a camera and planned photos will make, before anything is marked or photographed. */

import type { Adjustment } from './adjust.js';
import type { Pose } from './camera-model.js';
import { expectObservations } from './expect-observations.js';
import { foretell } from './foretell.js';
import { buildNetwork, type Network, type NetworkState } from './network.js';
import type { NetworkEvidence, NetworkInput } from './network-input.js';
import {
  type Extent,
  homographyOfPose,
  type PlainCamera,
  type PlannedView,
  plainPhoto,
  poseOfView,
} from './view-pose.js';

export interface ExpectedCamera extends PlainCamera {
  /** Whether the photos will say their focal length. */
  readonly focalLengthKnown: boolean;
  /** Distortion as the phone leaves it. */
  readonly k1: number;
  readonly k2: number;
}

/** Sizes of what varies along the travels of the machine and of the board: standard deviations. */
export interface ExpectedSizes {
  readonly straightnessMm: number;
  readonly progressionMm: number;
  readonly yawRad: number;
  readonly lineMm: number;
  readonly boardMm: number;
}

export interface ExpectedNetwork {
  readonly layout: NetworkInput['layout'];
  /** Of the board's programs: one, or several with turns between. */
  readonly placements: NetworkInput['placements'];
  readonly segments: NetworkInput['segments'];
  readonly camera: ExpectedCamera;
  readonly views: readonly PlannedView[];
  /** Share of the picture that the grid fills, from the middle to the edges; 0..1. */
  readonly fill: number;
  readonly evidence: readonly NetworkEvidence[];
  /** Of one segment in one photo. */
  readonly sigmaPx: number;
  /** Of one segment's wander on the board. */
  readonly sigmaMarkMm: number;
  readonly sizes: ExpectedSizes;
}

/** @returns undefined where the network is singular. */
export function foretellNetwork(expected: ExpectedNetwork): Adjustment | undefined {
  const { camera, layout, placements, segments, evidence } = expected;
  const extent = extentOf(expected);
  const poses = expected.views.map((view) => poseOfView(view, camera, extent, expected.fill));
  const bare: NetworkInput = {
    layout,
    cameras: [
      {
        widthPx: camera.widthPx,
        heightPx: camera.heightPx,
        ...(camera.focalLengthKnown ? { focalLengthPx: camera.focalLengthPx } : {}),
      },
    ],
    photos: poses.map((pose) => plainPhoto(homographyOfPose(pose, camera), 0, camera)),
    placements,
    segments,
    observations: [],
    evidence,
  };
  const without = buildNetwork(bare);
  if (without === undefined) return undefined;
  // Nothing is seen yet, so that pictures have no bends of their own: where marks will appear is the same.
  const flat = expectState(without.network, poses, expected);
  const all = segments.map((_, i) => i);
  const observations = poses.flatMap((_, photo) =>
    expectObservations(without.network, flat, photo, all, expected.sigmaPx),
  );
  const built = buildNetwork({ ...bare, observations });
  if (built === undefined) return undefined;
  const { network } = built;
  setSizes(network, expected.sizes);
  return foretell(network, expectState(network, poses, expected), {
    sigmaPx: Float64Array.from(observations, ({ sigmaPx }) => sigmaPx),
    keep: new Float64Array(observations.length).fill(1),
    photoFactor: new Float64Array(poses.length).fill(1),
    sigmaMarkMm: new Float64Array(placements.length).fill(expected.sigmaMarkMm),
    markLikeness: new Float64Array(placements.length).fill(1),
    keepSegment: new Float64Array(segments.length).fill(1),
  });
}

/** What the grids of all placements cover on the board, mm. */
export function extentOf({
  layout: { linesAtX, linesAtY },
  placements,
}: Pick<NetworkInput, 'layout' | 'placements'>): Extent {
  const corners = placements.flatMap(({ rotationRad, shiftMm }) => {
    const [c, s] = [Math.cos(rotationRad), Math.sin(rotationRad)];
    return [linesAtX[0], linesAtX[linesAtX.length - 1]].flatMap((x) =>
      [linesAtY[0], linesAtY[linesAtY.length - 1]].map((y) => ({
        x: c * x - s * y + shiftMm[0],
        y: s * x + c * y + shiftMm[1],
      })),
    );
  });
  const range = (values: readonly number[]) => [Math.min(...values), Math.max(...values)] as const;
  return { x: range(corners.map(({ x }) => x)), y: range(corners.map(({ y }) => y)) };
}

/** A true machine whose guides bend a little: a range has no uncertainty about nothing at all. */
function expectState(
  network: Network,
  poses: readonly Pose[],
  { camera, placements, sizes }: ExpectedNetwork,
): NetworkState {
  const values = network.table.initialValues();
  const [at] = network.cameraAt;
  values[at] = camera.focalLengthPx;
  values[at + 3] = camera.k1;
  values[at + 4] = camera.k2;
  for (const [photo, pose] of poses.entries()) {
    values.set([0, 0, 0, pose.a, pose.b, pose.rho], network.poseAt[photo]);
  }
  network.placementAt.forEach((at, i) => {
    if (at >= 0) values.set([placements[i].rotationRad, ...placements[i].shiftMm], at);
  });
  const { straightnessX, straightnessY } = network.machine.index;
  for (const terms of [straightnessX, straightnessY]) {
    // A bow, half as much of an S.
    terms.forEach((term, k) => {
      values[term] = (sizes.straightnessMm * Math.sqrt(terms.length)) / 2 ** k;
    });
  }
  return { values, rotations: poses.map(({ rotation }) => rotation) };
}

function setSizes({ table, machine }: Network, sizes: ExpectedSizes): void {
  const bends = new Set(machine.index.yaw.slice(1));
  const sizeOf: Partial<Record<string, number>> = {
    straightness: sizes.straightnessMm,
    progression: sizes.progressionMm,
    line: sizes.lineMm,
    rung: sizes.lineMm,
  };
  table.list.forEach((parameter, p) => {
    if (parameter.role === 'board') parameter.priorSigma = sizes.boardMm;
    if (parameter.role !== 'machine') return;
    const size = bends.has(p) ? sizes.yawRad : sizeOf[machine.terms[p].kind];
    if (size !== undefined) parameter.priorSigma = size;
  });
}
