/**
 * What one more photo would bring to a finished adjustment: the network enlarged by it and foretold. Its
 * information cannot simply be added, because the offsets of the segments that it would share with the
 * others are unknowns of all.
 */

import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { SCALE_DIFFERENCE, SQUARENESS } from '../machine/index.js';
import type { Adjustment } from './adjust.js';
import type { Pose } from './camera-model.js';
import { carryOver } from './carry-over.js';
import { WEAK_LIMIT } from './estimates.js';
import { extentOf } from './expect-network.js';
import { expectObservations } from './expect-observations.js';
import { foretell } from './foretell.js';
import { cameraOf } from './image-position.js';
import { buildNetwork } from './network.js';
import { isMeasuredOnBoard } from './network-input.js';
import { makeJudge, rankOf, type State } from './states.js';
import { isKept } from './stochastic.js';
import { viewOf } from './view-of.js';
import { fillOf, homographyOfPose, turnedPose } from './view-pose.js';

export interface OneMorePhoto {
  readonly quantity: 'squareness' | 'scale.ratio';
  /** The photo that the new one is to be like. */
  readonly like: number;
  /** Quarter turns of the phone against that one, counter-clockwise seen from above. */
  readonly turns: 0 | 1 | 2 | 3;
  /** What the quantity will then be. */
  readonly state: Exclude<State, 'undetermined'>;
  /** Expanded uncertainties, rad or ratio; `from` is absent where the quantity is undetermined. */
  readonly U: { readonly from?: number; readonly to: number };
}

interface Candidate {
  readonly like: number;
  readonly turns: OneMorePhoto['turns'];
}

/** The best of a few candidates for each quantity; none where no candidate fixes it. */
export function foretellOneMore(adjustment: Adjustment): OneMorePhoto[] {
  const quantities = ['squareness', 'scale.ratio'] as const;
  const now = reachOf(adjustment);
  const tried = chooseCandidates(adjustment).flatMap((candidate) => {
    const enlarged = enlarge(adjustment, candidate);
    return enlarged === undefined ? [] : [{ candidate, reach: reachOf(enlarged) }];
  });
  return quantities.flatMap((quantity) => {
    const [best] = [...tried].sort(
      (a, b) =>
        rankOf(a.reach[quantity].state) - rankOf(b.reach[quantity].state) ||
        a.reach[quantity].u - b.reach[quantity].u,
    );
    if (best === undefined) return [];
    const { state, u } = best.reach[quantity];
    if (state === 'undetermined') return [];
    const before = now[quantity];
    const from = before.state === 'undetermined' ? {} : { from: COVERAGE_FACTOR * before.u };
    return [{ quantity, ...best.candidate, state, U: { ...from, to: COVERAGE_FACTOR * u } }];
  });
}

/** The photo nearest to overhead, held any way round, and the most tilted one. */
function chooseCandidates(adjustment: Adjustment): Candidate[] {
  const { photos } = adjustment.network.input;
  const tilts = photos.map((_, i) => viewOf(adjustment, i).tiltRad);
  const least = tilts.indexOf(Math.min(...tilts));
  const most = tilts.indexOf(Math.max(...tilts));
  return [
    ...([0, 1, 2, 3] as const).map((turns) => ({ like: least, turns })),
    ...(most === least ? [] : [{ like: most, turns: 0 as const }]),
  ];
}

type Reached = Readonly<
  Record<OneMorePhoto['quantity'], { readonly state: State; readonly u: number }>
>;

function reachOf(adjustment: Adjustment): Reached {
  const judge = makeJudge(adjustment);
  const { table } = adjustment.network;
  const of = (parameter: number, slope: number, unit: 'rad' | '1') => {
    const gradient = new Float64Array(table.size);
    gradient[parameter] = slope;
    return judge.reach(gradient, [], WEAK_LIMIT[unit]);
  };
  const d = adjustment.state.values[SCALE_DIFFERENCE];
  return {
    squareness: of(SQUARENESS, 1, 'rad'),
    'scale.ratio': of(SCALE_DIFFERENCE, 2 / (1 - d) ** 2, '1'),
  };
}

/** The adjustment with one photo more, which shows every mark that was measured and is in its view. */
function enlarge(adjustment: Adjustment, { like, turns }: Candidate): Adjustment | undefined {
  const { network: old, state, stochastic } = adjustment;
  const { input } = old;
  const source = input.photos[like];
  const { camera, wander, pose: seen } = cameraOf(adjustment, like);
  const { widthPx, heightPx } = input.cameras[source.camera];
  const plain = { widthPx, heightPx, focalLengthPx: camera[0] * (1 + wander[0]) };
  const extent = extentOf(input);
  const fill = fillOf(seen, plain, extent);
  // A strongly tilted photo of a part may have the rest of the bed behind the camera.
  if (turns !== 0 && !Number.isFinite(fill)) return undefined;
  const pose: Pose = turns === 0 ? seen : turnedPose(seen, turns, plain, extent, fill);
  const photo = input.photos.length;
  const enlarged = {
    ...input,
    photos: [...input.photos, { ...source, homography: homographyOfPose(pose, plain) }],
    // What was measured without a photo counts as seen in the one behind the last.
    observations: input.observations.map((seenBefore) =>
      isMeasuredOnBoard(input, seenBefore) ? { ...seenBefore, photo: photo + 1 } : seenBefore,
    ),
  };
  const bare = buildNetwork(enlarged);
  if (bare === undefined) return undefined;
  const values = carryOver(old, state, bare.network, bare.state.values);
  values.set(wander, bare.network.wanderAt[photo]);
  values.set([0, 0, 0, pose.a, pose.b, pose.rho], bare.network.poseAt[photo]);
  const rotations = [...state.rotations, pose.rotation];

  const usable = new Set<number>();
  let squares = 0;
  let count = 0;
  input.observations.forEach((observation, i) => {
    if (!isKept(input, stochastic, i) || isMeasuredOnBoard(input, observation)) return;
    usable.add(observation.segment);
    if (observation.photo !== like) return;
    squares += (stochastic.sigmaPx[i] * stochastic.photoFactor[like]) ** 2;
    count++;
  });
  const sigmaPx = Math.sqrt(squares / Math.max(1, count));
  const added = expectObservations(
    bare.network,
    { values, rotations },
    photo,
    [...usable],
    sigmaPx,
  );
  const built = buildNetwork({ ...enlarged, observations: [...enlarged.observations, ...added] });
  if (built === undefined) return undefined;
  carryOver(old, state, built.network, values);
  const longer = (list: Float64Array, value: number) =>
    Float64Array.from([...list, ...added.map(() => value)]);
  return foretell(
    built.network,
    { values, rotations },
    {
      sigmaPx: longer(stochastic.sigmaPx, sigmaPx),
      keep: longer(stochastic.keep, 1),
      photoFactor: Float64Array.from([
        ...stochastic.photoFactor.subarray(0, photo),
        1,
        ...stochastic.photoFactor.subarray(photo),
      ]),
      sigmaMarkMm: stochastic.sigmaMarkMm,
      markLikeness: stochastic.markLikeness,
      keepSegment: stochastic.keepSegment,
    },
  );
}
