import { describe, expect, it } from 'vitest';
import {
  CAMERA_SIZE,
  makeProjection,
  project,
  WANDER_SIZE,
} from '../../src/network/camera-model.js';
import { isMeasuredOnBoard, type RuleInPicture } from '../../src/network/index.js';
import { linearise, poseOf, stepped } from '../../src/network/linearise.js';
import {
  buildNetwork,
  machineValuesOf,
  type Network,
  type NetworkState,
} from '../../src/network/network.js';
import type { NetworkBeliefs } from '../../src/network/network-input.js';
import { WARP_SIZE } from '../../src/network/picture-warp.js';
import { layOutGrid, writeFlatProgram } from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { type SimulatedNetworkOptions, simulateNetwork } from '../simulation/simulated-network.js';
import { BENCH } from '../unit/plan/plan-choices.js';

/** A state away from every special case: distortion, decentring, skewed pixels, a turned placement. */
function unspecialState(
  options: Partial<SimulatedNetworkOptions> = {},
  beliefs: NetworkBeliefs = {},
): {
  network: Network;
  state: NetworkState;
} {
  const { input } = simulateNetwork({
    seed: 5,
    sigmaPx: 0.05,
    sigmaMarkMm: 0.02,
    photos: [1, 2],
    focalKnown: true,
    taped: true,
    scene: { tiltDeg: [8, 12] },
    ...options,
  });
  const measured = input.segments.flatMap((segment, i) => (i % 11 === 0 ? [segment] : []));
  const built = buildNetwork({
    ...input,
    beliefs,
    placements: [
      ...input.placements,
      { rotationRad: 1.55, shiftMm: [480, 15] },
      { rotationRad: 0.4, shiftMm: [100, -30], instrumentScaleU: 3e-5 },
    ],
    segments: [
      ...input.segments.map((segment, i) => ({ ...segment, placement: i % 3 === 0 ? 1 : 0 })),
      ...measured.map((segment) => ({ ...segment, placement: 2 })),
    ],
    observations: [
      ...input.observations.filter(
        ({ segment }, i) => i % 7 === 0 || input.segments[segment].isRepeated,
      ),
      ...measured.map(({ xMm, yMm }, i) => ({
        photo: input.photos.length,
        segment: input.segments.length + i,
        uPx: xMm + 90,
        vPx: yMm - 40,
        normalU: 1,
        normalV: 0,
        sigmaPx: 0.01,
      })),
    ],
    evidence: [
      ...input.evidence.map((e) =>
        e.kind === 'length' ? { ...e, tapeScaleU: 3e-4, trueOverRead: 1.01 } : e,
      ),
      ...[0, 1].map(
        (photo): RuleInPicture => ({
          kind: 'rule',
          what: 'rule',
          photo,
          fromPx: [900, 1100 + 100 * photo],
          toPx: [2700, 1900],
          sigmaPx: 1,
          lengthMm: 500,
          uMm: 0.05,
          heightMm: 1.3,
          heightUMm: 0.3,
          ruleScaleU: [1e-4, 2e-4][photo],
          trueOverRead: 0.99,
        }),
      ),
    ],
  });
  if (built === undefined) throw new Error('the simulated photos give no start');
  const { network, state } = built;
  const values = state.values.slice();
  const camera = network.cameraAt[0];
  [3, -11, 7, -0.08, 0.03, 0.01, 4e-4, -3e-4, 9, -6, 2e-4, -1e-4, 3e-4, -2e-4].forEach(
    (offset, k) => {
      values[camera + k] += offset;
    },
  );
  for (const at of network.wanderAt) {
    [2e-3, 4, -5, 1e-4, 2e-4].forEach((offset, k) => {
      values[at + k] = offset;
    });
  }
  values.set([0.7, -0.4, 0.9], network.boardAt);
  for (const at of network.machineAt) {
    network.machine.terms.forEach(({ priorSigma }, k) => {
      values[at[k]] = 0.3 * priorSigma * Math.cos(at[k]);
    });
  }
  network.table.list.forEach(({ role }, p) => {
    if (role === 'warp') values[p] = 2 * Math.cos(p);
  });
  const there = { ...state, values };
  return { network: withTrueNormals(network, there), state: there };
}

/**
 * The equations count across a mark only. Exactly across, that is at the state itself: else the neglected
 * motion along the mark would show.
 */
function withTrueNormals(network: Network, state: NetworkState): Network {
  const { input, machine } = network;
  const basis = new Float64Array(WARP_SIZE / 2);
  const observations = input.observations.map((seen) => {
    const { placement, axis, xMm, yMm, line, approach, isRepeated } = input.segments[seen.segment];
    const machineValues = machineValuesOf(network, state, placement);
    const own = machine.across(
      axis,
      machineValues,
      xMm,
      yMm,
      line,
      approach,
      undefined,
      isRepeated,
    );
    const other = axis === 'x' ? 'y' : 'x';
    const along = machine.across(other, machineValues, xMm, yMm, undefined, 0);
    const at = network.placementAt[placement];
    const [angle, shiftX, shiftY] = at < 0 ? [0, 0, 0] : state.values.slice(at, at + 3);
    if (isMeasuredOnBoard(input, seen)) {
      const turn = axis === 'x' ? angle : angle + Math.PI / 2;
      return { ...seen, normalU: Math.cos(turn), normalV: Math.sin(turn) };
    }
    const ends = [-0.01, 0.01].map((step) => {
      const [px, py] = axis === 'x' ? [own, along + step] : [along + step, own];
      const into = makeProjection();
      const boardX = Math.cos(angle) * px - Math.sin(angle) * py + shiftX;
      const boardY = Math.sin(angle) * px + Math.cos(angle) * py + shiftY;
      project(
        state.values.subarray(network.cameraAt[0], network.cameraAt[0] + CAMERA_SIZE),
        state.values.subarray(
          network.wanderAt[seen.photo],
          network.wanderAt[seen.photo] + WANDER_SIZE,
        ),
        poseOf(network, state, seen.photo),
        boardX,
        boardY,
        into,
        network.surface.at(
          state.values.subarray(network.boardAt, network.boardAt + 3),
          boardX,
          boardY,
        ),
      );
      const [warpAt] = network.warpAt.slice(seen.photo);
      if (warpAt !== undefined) {
        const bends = state.values.subarray(warpAt, warpAt + WARP_SIZE);
        network.warp.bend(bends, boardX, boardY, into, basis);
      }
      return [into.u, into.v];
    });
    const du = ends[1][0] - ends[0][0];
    const dv = ends[1][1] - ends[0][1];
    const length = Math.hypot(du, dv);
    return { ...seen, normalU: -dv / length, normalV: du / length };
  });
  return { ...network, input: { ...input, observations } };
}

/** A grid with ladders and lines marked again, whose drives' periods are known. */
function laidOut(): Partial<SimulatedNetworkOptions> {
  const text = writeFlatProgram(unwrap(layOutGrid(BENCH)), 'grid.ngc');
  const options = { name: 'grid.ngc', marking: 'laser', blockDelete: false } as const;
  const { strokes } = unwrap(readProgram(text, options));
  return { strokes, periodsMm: { x: 5, y: 94.248 } };
}

describe('derivatives of the observation equations', () => {
  it('reach every kind of machine term on a laid-out grid', () => {
    const { network, state } = unspecialState(laidOut());
    const { rows } = linearise(network, state);
    const used = new Set(rows.index.subarray(0, rows.start[rows.count]));
    const unused = network.machine.terms.filter(({ kind }, k) => kind !== 'line' && !used.has(k));
    expect(unused.filter(({ kind }) => kind !== 'rung')).toEqual([]);
  });

  it.each([
    ['a plain grid, nothing believed of the camera', {}, {}],
    ['a plain grid, a machine per placement', {}, { machinePerPlacement: true } as const],
    ['a laid-out grid', laidOut(), { camera: 'believed' } as const],
  ])('agree with central differences for every unknown: %s', (_, options, beliefs) => {
    const { network, state } = unspecialState(options, beliefs);
    const n = network.table.size;
    const rows = network.input.observations.length;
    const { rows: design, extra } = linearise(network, state);
    const size = rows + extra.residual.length;
    const analytic = Array.from({ length: size }, () => new Float64Array(n));
    for (let i = 0; i < rows; i++) {
      for (let e = design.start[i]; e < design.start[i + 1]; e++) {
        analytic[i][design.index[e]] += design.value[e];
      }
    }
    extra.residual.forEach((_, k) => {
      for (let e = extra.rows.start[k]; e < extra.rows.start[k + 1]; e++) {
        analytic[rows + k][extra.rows.index[e]] += extra.rows.value[e];
      }
    });
    // Marks on the board, tape and rules count in millimetres: among pixels a fault would be lost.
    const inMm = Array.from({ length: size }, (_, i) => i).filter(
      (i) => i >= rows || isMeasuredOnBoard(network.input, network.input.observations[i]),
    );
    for (let p = 0; p < n; p++) {
      const largest = Math.max(...analytic.map((row) => Math.abs(row[p])));
      // A step that moves the computed values by about a hundredth of a pixel or millimetre.
      const h = 0.01 / Math.max(largest, 1e-6);
      const residuals = [-1, 1].map((side) => {
        const step = new Float64Array(n);
        step[p] = side * h;
        const there = linearise(network, stepped(network, state, step));
        return [...there.residual, ...there.extra.residual];
      });
      let worst = 0;
      let worstInMm = 0;
      for (let i = 0; i < size; i++) {
        const numeric = (residuals[0][i] - residuals[1][i]) / (2 * h);
        worst = Math.max(worst, Math.abs(numeric - analytic[i][p]));
        if (!inMm.includes(i)) continue;
        worstInMm = Math.max(worstInMm, Math.abs(numeric - analytic[i][p]));
      }
      const largestInMm = Math.max(...inMm.map((i) => Math.abs(analytic[i][p])));
      // Their own steps are smaller, and rounding is felt more.
      const allowed = Math.max(2e-5 * largestInMm, 1e-9 / h);
      expect.soft(worstInMm, `${network.table.list[p].name} in mm`).toBeLessThan(allowed);
      expect.soft(worst / Math.max(largest, 1e-9), network.table.list[p].name).toBeLessThan(2e-5);
    }
  });
});
