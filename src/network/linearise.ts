/** Observation equations of the network at a state: residuals and derivatives, row by row. */

import { type Axis, SQUARENESS } from '../machine/index.js';
import { type DesignRows, makeDesignRows } from '../numerics/index.js';
import { BOARD_SIZE } from './board-surface.js';
import {
  CAMERA_SIZE,
  CENTRE,
  DISTORTION_CENTRE,
  makeProjection,
  POSE_SIZE,
  type Pose,
  project,
  turnedRotation,
  WANDER_SIZE,
} from './camera-model.js';
import { lineariseRule } from './linearise-rule.js';
import {
  cameraValues,
  isCentreTied,
  machineValuesOf,
  type Network,
  type NetworkState,
} from './network.js';
import { isMeasuredOnBoard } from './network-input.js';
import { WARP_SIZE } from './picture-warp.js';

export interface Linearised {
  /** One row per line observation: derivatives of the computed value, px. */
  readonly rows: DesignRows;
  /** Observed minus computed across the mark, px. */
  readonly residual: Float64Array;
  /** Derivative of the computed value by the segment's own offset across, px per mm. */
  readonly byOffset: Float64Array;
  /** The same by the offset of the point's other coordinate; meaningless for a line. */
  readonly byOther: Float64Array;
  /** Evidence and gauge equations. */
  readonly extra: ExtraRows;
}

export interface ExtraRows {
  readonly rows: DesignRows;
  readonly residual: number[];
  readonly sigma: number[];
  /** Index into the input's evidence; -1: a gauge equation. */
  readonly source: number[];
}

/**
 * The gauge of the line deviations is held this tightly, mm: far below any mark, far above the
 * rounding of the normal equations.
 */
const GAUGE_SIGMA_MM = 1e-5;

export function poseOf(network: Network, state: NetworkState, photo: number): Pose {
  const at = network.poseAt[photo];
  const v = state.values;
  return { rotation: state.rotations[photo], a: v[at + 3], b: v[at + 4], rho: v[at + 5] };
}

/** Most derivatives a row can hold. A gauge equation touches every line of an axis. */
function rowRoom(network: Network): { observation: number; extra: number } {
  const { index, terms } = network.machine;
  const common = index.lineX;
  // Behind the single lines come cosine, sine, drift and the ladder's shift of one axis. A mark measured on
  // the board has the instrument's scale instead of a camera.
  const across = common + 4 + 2;
  const along = network.input.segments.some(({ pair }) => pair !== undefined)
    ? across
    : SQUARENESS + 1;
  const observation =
    across + along + CAMERA_SIZE + WANDER_SIZE + POSE_SIZE + WARP_SIZE + 3 + BOARD_SIZE;
  const rule = CAMERA_SIZE + WANDER_SIZE + POSE_SIZE + WARP_SIZE + BOARD_SIZE;
  return { observation, extra: Math.max(terms.length, rule) + 2 };
}

export function linearise(network: Network, state: NetworkState, reuse?: Linearised): Linearised {
  const { input, machine, machineAt, cameraAt, wanderAt, poseAt, warpAt, warp } = network;
  const { placementAt, boardAt, surface } = network;
  const count = input.observations.length;
  const rows = reuse?.rows ?? makeDesignRows(count, rowRoom(network).observation);
  const residual = reuse?.residual ?? new Float64Array(count);
  const byOffset = reuse?.byOffset ?? new Float64Array(count);
  const byOther = reuse?.byOther ?? new Float64Array(count);
  const { values } = state;
  const machines = machineAt.map((_, i) => machineValuesOf(network, state, i));
  const warps = warpAt.map((at) => values.subarray(at, at + WARP_SIZE));
  const bend = new Float64Array(WARP_SIZE / 2);
  const projection = makeProjection();
  const board = values.subarray(boardAt, boardAt + BOARD_SIZE);
  const byTerm = new Float64Array(BOARD_SIZE);
  const cameras = cameraAt.map((_, camera) => cameraValues(network, state, camera));
  const tied = isCentreTied(input);
  const wanders = wanderAt.map((at) => values.subarray(at, at + WANDER_SIZE));
  const poses = input.photos.map((_, i) => poseOf(network, state, i));
  const turns = input.placements.map((_, i) => {
    const at = placementAt[i];
    const angle = at < 0 ? 0 : values[at];
    return {
      cos: Math.cos(angle),
      sin: Math.sin(angle),
      x: at < 0 ? 0 : values[at + 1],
      y: at < 0 ? 0 : values[at + 2],
    };
  });
  // The machine's part of a segment is the same in every photo.
  const places = input.segments.map((segment) => {
    const term: number[] = [];
    const slope: number[] = [];
    const machineValues = machines[segment.placement];
    const indexOf = machineAt[segment.placement];
    const across = machine.across(
      segment.axis,
      machineValues,
      segment.xMm,
      segment.yMm,
      segment.line,
      segment.approach,
      (t, value) => {
        term.push(indexOf[t]);
        slope.push(value);
      },
      segment.isRepeated,
    );
    const otherAxis: Axis = segment.axis === 'x' ? 'y' : 'x';
    // Along the mark an observation sees next to nothing; yet without the terms that grow with the
    // board's size, an unknown scale would seem to be fixed by the little that it sees.
    const alongTerm: number[] = [];
    const alongSlope: number[] = [];
    const other = segment.pair === undefined ? undefined : input.segments[segment.pair];
    const along = machine.across(
      otherAxis,
      machineValues,
      segment.xMm,
      segment.yMm,
      other?.line,
      other?.approach ?? 0,
      (t, value) => {
        if (other === undefined && t > SQUARENESS) return;
        alongTerm.push(indexOf[t]);
        alongSlope.push(value);
      },
    );
    const [x, y] = segment.axis === 'x' ? [across, along] : [along, across];
    return { x, y, term, slope, alongTerm, alongSlope };
  });

  let at = 0;
  rows.start[0] = 0;
  const { index, value } = rows;
  for (let i = 0; i < count; i++) {
    const seen = input.observations[i];
    const segment = input.segments[seen.segment];
    const place = places[seen.segment];
    const turn = turns[segment.placement];
    const x = turn.cos * place.x - turn.sin * place.y + turn.x;
    const y = turn.sin * place.x + turn.cos * place.y + turn.y;
    const nu = seen.normalU;
    const nv = seen.normalV;
    let byX = nu;
    let byY = nv;
    if (isMeasuredOnBoard(input, seen)) {
      residual[i] = nu * (seen.uPx - x) + nv * (seen.vPx - y);
      // An instrument whose millimetres are too long by κ reads short: reading (1 + κ) = place.
      const scale = network.instrumentAt[segment.placement];
      if (scale >= 0) {
        const reading = nu * seen.uPx + nv * seen.vPx;
        residual[i] += reading * values[scale];
        index[at] = scale;
        value[at++] = -reading;
      }
    } else {
      const height = surface.at(board, x, y, byTerm);
      const { camera } = input.photos[seen.photo];
      project(cameras[camera], wanders[seen.photo], poses[seen.photo], x, y, projection, height);
      if (warps.length > 0) {
        warp.bend(warps[seen.photo], x, y, projection, bend);
        bend.forEach((slope, k) => {
          index[at] = warpAt[seen.photo] + k;
          value[at++] = nu * slope;
          index[at] = warpAt[seen.photo] + bend.length + k;
          value[at++] = nv * slope;
        });
      }
      residual[i] = nu * (seen.uPx - projection.u) + nv * (seen.vPx - projection.v);
      const c = projection.byCamera;
      if (tied) tieCentre(c);
      for (let k = 0; k < CAMERA_SIZE; k++) {
        index[at] = cameraAt[camera] + k;
        value[at++] = nu * c[k] + nv * c[CAMERA_SIZE + k];
      }
      const w = projection.byWander;
      for (let k = 0; k < WANDER_SIZE; k++) {
        index[at] = wanderAt[seen.photo] + k;
        value[at++] = nu * w[k] + nv * w[WANDER_SIZE + k];
      }
      const p = projection.byPose;
      for (let k = 0; k < POSE_SIZE; k++) {
        index[at] = poseAt[seen.photo] + k;
        value[at++] = nu * p[k] + nv * p[POSE_SIZE + k];
      }
      const b = projection.byBoard;
      byX = nu * b[0] + nv * b[2];
      byY = nu * b[1] + nv * b[3];
      const byHeight = nu * projection.byHeight[0] + nv * projection.byHeight[1];
      for (let k = 0; k < BOARD_SIZE; k++) {
        index[at] = boardAt + k;
        value[at++] = byHeight * byTerm[k];
      }
    }
    const byAcross =
      segment.axis === 'x' ? byX * turn.cos + byY * turn.sin : byY * turn.cos - byX * turn.sin;
    byOffset[i] = byAcross;
    for (let k = 0; k < place.term.length; k++) {
      index[at] = place.term[k];
      value[at++] = byAcross * place.slope[k];
    }
    const byAlong =
      segment.axis === 'x' ? byY * turn.cos - byX * turn.sin : byX * turn.cos + byY * turn.sin;
    byOther[i] = byAlong;
    for (let k = 0; k < place.alongTerm.length; k++) {
      index[at] = place.alongTerm[k];
      value[at++] = byAlong * place.alongSlope[k];
    }
    const placement = placementAt[segment.placement];
    if (placement >= 0) {
      index[at] = placement;
      value[at++] = byY * (x - turn.x) - byX * (y - turn.y);
      index[at] = placement + 1;
      value[at++] = byX;
      index[at] = placement + 2;
      value[at++] = byY;
    }
    rows.start[i + 1] = at;
  }
  rows.count = count;
  return {
    rows,
    residual,
    byOffset,
    byOther,
    extra: lineariseExtras(network, state),
  };
}

/** What the distortion centre moves, the principal point moves along with its own. */
export function tieCentre(byCamera: Float64Array): void {
  for (const row of [0, CAMERA_SIZE]) {
    for (const k of [0, 1]) {
      byCamera[row + CENTRE + k] += byCamera[row + DISTORTION_CENTRE + k];
      byCamera[row + DISTORTION_CENTRE + k] = 0;
    }
  }
}

function lineariseExtras(network: Network, state: NetworkState): ExtraRows {
  const { values } = state;
  const { input, machine, tapeAt } = network;
  const { linesAtX, linesAtY } = input.layout;
  const most = input.evidence.length + 4;
  // Evidence is of the first placement.
  const machineValues = values.subarray(0, machine.terms.length);
  const rows = makeDesignRows(most, rowRoom(network).extra);
  const extra: ExtraRows = { rows, residual: [], sigma: [], source: [] };
  let at = 0;
  const put = (term: number, slope: number) => {
    rows.index[at] = term;
    rows.value[at++] = slope;
  };
  const close = (residual: number, sigma: number, source: number) => {
    extra.residual.push(residual);
    extra.sigma.push(sigma);
    extra.source.push(source);
    rows.count++;
    rows.start[rows.count] = at;
  };

  // Deviations of single lines hold no constant and no slope.
  for (const [lines, first] of [
    [linesAtX, machine.index.lineX],
    [linesAtY, machine.index.lineY],
  ] as const) {
    const mean = lines.reduce((sum, place) => sum + place, 0) / lines.length;
    const half = Math.max(...lines.map((place) => Math.abs(place - mean)));
    let sum = 0;
    let slope = 0;
    lines.forEach((place, k) => {
      sum += values[first + k];
      slope += ((place - mean) / half) * values[first + k];
    });
    lines.forEach((_, k) => {
      put(first + k, 1);
    });
    close(-sum, GAUGE_SIGMA_MM, -1);
    lines.forEach((place, k) => {
      put(first + k, (place - mean) / half);
    });
    close(-slope, GAUGE_SIGMA_MM, -1);
  }

  for (const [source, item] of input.evidence.entries()) {
    if (item.kind === 'square') {
      put(SQUARENESS, 1);
      close(item.squarenessRad - machineValues[SQUARENESS], item.uRad, source);
      continue;
    }
    if (item.kind === 'rule') {
      const pose = poseOf(network, state, item.photo);
      const { residual, sigma } = lineariseRule(network, state, item, pose, put);
      close(residual, sigma, source);
      continue;
    }
    const dense = new Float64Array(machine.terms.length);
    const ends = [item.fromMm, item.toMm].map(([x, y]) => ({
      x: machine.across('x', machineValues, x, y, undefined, 0),
      y: machine.across('y', machineValues, x, y, undefined, 0),
    }));
    const dx = ends[1].x - ends[0].x;
    const dy = ends[1].y - ends[0].y;
    const distance = Math.hypot(dx, dy);
    const stretch = item.trueOverRead ?? 1;
    for (const [sense, [x, y]] of [
      [-1, item.fromMm],
      [1, item.toMm],
    ] as const) {
      for (const [axis, share] of [
        ['x', dx / distance],
        ['y', dy / distance],
      ] as const) {
        machine.across(axis, machineValues, x, y, undefined, 0, (term, slope) => {
          dense[term] += sense * share * slope;
        });
      }
    }
    dense.forEach((slope, term) => {
      if (slope !== 0) put(term, slope / stretch);
    });
    // A tape that is too long by κ reads a length short: reading (1 + κ) = distance.
    let computed = distance / stretch;
    if (tapeAt >= 0 && item.tapeScaleU > 0) {
      put(tapeAt, -item.lengthMm);
      computed -= item.lengthMm * values[tapeAt];
    }
    close(item.lengthMm - computed, item.uMm, source);
  }
  return extra;
}

/** The state after a step: rotations turned, everything else added. */
export function stepped(network: Network, state: NetworkState, step: Float64Array): NetworkState {
  const values = state.values.map((value, i) => value + step[i]);
  const rotations = state.rotations.map((rotation, photo) => {
    const at = network.poseAt[photo];
    for (let k = 0; k < 3; k++) values[at + k] = 0;
    return turnedRotation(rotation, step[at], step[at + 1], step[at + 2]);
  });
  return { values, rotations };
}
