/**
 * What each kind of evidence fixes beside one photo of an unknown camera, which by itself fixes lost motion
 * only; and how well, against plain least squares on the same figures.
 */
import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import {
  evenPositions,
  gridProgram,
  machineTruth,
  measureNodes,
  seeRule,
} from '../../samples/index.js';
import type { Estimate, Quantity } from '../../shared/schemas/measurement.js';
import {
  adjust,
  estimateMachine,
  type NetworkEvidence,
  type NetworkInput,
  type RuleInPicture,
} from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { type SimulatedNetwork, simulateNetwork } from './simulated-network.js';

/** Stated uncertainties are right within this factor. */
const FACTOR = 1.5;
const SEEDS = [1, 2, 3, 4, 5];

function onePhoto(seed: number, focalKnown = false): SimulatedNetwork {
  const photos = [seed % 8];
  return simulateNetwork({
    seed,
    photos,
    sigmaPx: 0.05,
    sigmaMarkMm: 0.02,
    focalKnown,
    taped: false,
  });
}

function estimate(input: NetworkInput, evidence: readonly NetworkEvidence[] = input.evidence) {
  return estimateMachine(unwrap(adjust({ ...input, evidence })));
}

function statesOf(e: ReturnType<typeof estimateMachine>) {
  return [e.squareness, e.scale.ratio, e.scale.x, e.scale.y].map(({ state }) =>
    state === 'measured' ? 'yes' : 'no',
  );
}

function told(quantity: Quantity): Estimate {
  if (quantity.state === 'undetermined') throw new Error(`undetermined: ${quantity.reason}`);
  return quantity;
}

function expectWithin(u: number, expected: number) {
  expect(u).toBeGreaterThan(expected / FACTOR);
  expect(u).toBeLessThan(expected * FACTOR);
}

type Place = readonly [number, number];

function tape(scene: SimulatedNetwork['scene'], from: Place, to: Place, u: number, error: number) {
  const ends = [from, to].map(([xMm, yMm]) => ({ xMm, yMm, approachX: 0, approachY: 0 }) as const);
  const quiet = { sigmaMm: 0, sigmaMarkMm: 0, rotationRad: 0, shiftMm: [0, 0], scale: 1 } as const;
  const [a, b] = measureNodes(scene, ends, { ...quiet, seed: 1 }) as unknown as [Place, Place];
  const evidence: NetworkEvidence = {
    kind: 'length',
    what: `${from} to ${to}`,
    fromMm: from,
    toMm: to,
    lengthMm: Math.hypot(b[0] - a[0], b[1] - a[1]) + error,
    uMm: u,
    tapeScaleU: 0,
  };
  return evidence;
}

/** Standard uncertainties of squareness, ratio and both scales from lengths alone (their linear model). */
function fromLengths(pairs: readonly (readonly [Place, Place])[], u: number) {
  const design = pairs.map(([[x0, y0], [x1, y1]]) => {
    const [dx, dy] = [x1 - x0, y1 - y0];
    const length = Math.hypot(dx, dy);
    return [dx ** 2 / length, dy ** 2 / length, (dx * dy) / length];
  });
  const a = new Matrix(design);
  const c = inverse(a.transpose().mmul(a)).mul(u * u);
  return {
    scaleX: Math.sqrt(c.get(0, 0)),
    scaleY: Math.sqrt(c.get(1, 1)),
    ratio: Math.sqrt(c.get(0, 0) + c.get(1, 1) - 2 * c.get(0, 1)),
    squareness: Math.sqrt(c.get(2, 2)),
  };
}

const [W, H] = [720, 480];

describe('one photo of an unknown camera and', () => {
  it('one length along X: the scale of X and no other', () => {
    for (const seed of SEEDS) {
      const { input, scene, truth } = onePhoto(seed);
      const found = estimate(input, [tape(scene, [0, 0], [W, 0], 0.2, 0.1)]);
      expect(statesOf(found)).toEqual(['no', 'no', 'yes', 'no']);
      const scaleX = told(found.scale.x);
      expectWithin(scaleX.u, 0.2 / W);
      expect(Math.abs(scaleX.value - truth.scale.x)).toBeLessThan(scaleX.U);
    }
  });

  it('four sides and two diagonals by tape: all, as well as the lengths by themselves would', () => {
    const corners: Place[] = [
      [0, 0],
      [W, 0],
      [W, H],
      [0, H],
    ];
    const pairs = [
      [0, 1],
      [1, 2],
      [2, 3],
      [3, 0],
      [0, 2],
      [1, 3],
    ].map(([i, j]) => [corners[i], corners[j]] as const);
    const u = 0.5;
    const alone = fromLengths(pairs, u);
    for (const seed of SEEDS.slice(0, 2)) {
      const { input, scene, truth } = onePhoto(seed);
      const errors = [0.4, -0.3, 0.5, -0.6, 0.2, -0.2];
      const lengths = pairs.map(([from, to], k) => tape(scene, from, to, u, errors[k]));
      const found = estimate(input, lengths);
      expect(statesOf(found)).toEqual(['yes', 'yes', 'yes', 'yes']);
      expectWithin(told(found.squareness).u, alone.squareness);
      expectWithin(told(found.scale.ratio).u, alone.ratio);
      expectWithin(told(found.scale.x).u, alone.scaleX);
      expectWithin(told(found.scale.y).u, alone.scaleY);
      const { value, U } = told(found.squareness);
      expect(Math.abs(value - truth.squareness)).toBeLessThan(U);
    }
  });

  it('a square check: squareness with its own u, and no other', () => {
    const { input, truth } = onePhoto(3);
    const check = { kind: 'square', what: 'square', uRad: 7e-5 } as const;
    const found = estimate(input, [{ ...check, squarenessRad: truth.squareness + 5e-5 }]);
    expect(statesOf(found)).toEqual(['yes', 'no', 'no', 'no']);
    expectWithin(told(found.squareness).u, 7e-5);
  });
});

describe('rules of 300 mm in one photo of an unknown camera', () => {
  const LENGTH = 300;
  const U = 0.05;
  /** Two pixels read to half a pixel each, some 0.25 mm wide. */
  const SIGMA_PX = 0.3;

  function rules(
    { scene, input }: SimulatedNetwork,
    seed: number,
    angles: readonly number[],
    heightMm = 1,
  ): RuleInPicture[] {
    const photo = seed % 8;
    return angles.map((angleRad, k) => {
      const middle = [W / 2, H / 2];
      const fromMm = [
        middle[0] - (LENGTH / 2) * Math.cos(angleRad),
        middle[1] - (LENGTH / 2) * Math.sin(angleRad) + 5 * k,
      ] as const;
      const seen = seeRule(scene, photo, { fromMm, angleRad, lengthMm: LENGTH, heightMm });
      expect(input.photos).toHaveLength(1);
      return {
        kind: 'rule',
        what: `rule ${k}`,
        photo: 0,
        fromPx: seen[0],
        toPx: seen[1],
        sigmaPx: SIGMA_PX,
        lengthMm: LENGTH,
        uMm: U,
        heightMm: 1,
        heightUMm: 0.1,
        ruleScaleU: 0,
      };
    });
  }

  /** One rule's relative uncertainty: the pixels are 0.2 to 0.3 mm wide in these scenes. */
  function relative({ mmPerPx }: { mmPerPx: number }) {
    return Math.hypot(U, Math.SQRT2 * SIGMA_PX * mmPerPx) / LENGTH;
  }

  function scaleOfPhoto(simulated: SimulatedNetwork) {
    const [seen] = rules(simulated, 1, [0]);
    const px = Math.hypot(seen.toPx[0] - seen.fromPx[0], seen.toPx[1] - seen.fromPx[1]);
    return { mmPerPx: LENGTH / px };
  }

  it('along X and along Y fix ratio and both scales, but not squareness', () => {
    for (const seed of SEEDS) {
      const simulated = onePhoto(seed);
      const found = estimate(simulated.input, rules(simulated, seed, [0, Math.PI / 2]));
      expect(statesOf(found)).toEqual(['no', 'yes', 'yes', 'yes']);
      const { truth } = simulated;
      for (const [quantity, value] of [
        [found.scale.ratio, truth.scale.ratio],
        [found.scale.x, truth.scale.x],
        [found.scale.y, truth.scale.y],
      ] as const) {
        expect(Math.abs(told(quantity).value - value)).toBeLessThan(told(quantity).U);
      }
    }
    const simulated = onePhoto(1);
    const found = estimate(simulated.input, rules(simulated, 1, [0, Math.PI / 2]));
    expectWithin(told(found.scale.ratio).u, Math.SQRT2 * relative(scaleOfPhoto(simulated)));
  });

  it('along both diagonals fix squareness, but neither ratio nor scale', () => {
    const angle = Math.atan2(H, W);
    for (const seed of SEEDS) {
      const simulated = onePhoto(seed);
      const found = estimate(simulated.input, rules(simulated, seed, [angle, -angle]));
      expect(statesOf(found)).toEqual(['yes', 'no', 'no', 'no']);
      const squareness = told(found.squareness);
      expect(Math.abs(squareness.value - simulated.truth.squareness)).toBeLessThan(squareness.U);
    }
    const simulated = onePhoto(1);
    const found = estimate(simulated.input, rules(simulated, 1, [angle, -angle]));
    // Diagonals at ± a: their relative difference is s · sin 2a.
    const expected = (Math.SQRT2 * relative(scaleOfPhoto(simulated))) / Math.sin(2 * angle);
    expectWithin(told(found.squareness).u, expected);
  });

  it('that lie higher than stated pull the scale by no more than that doubt allows', () => {
    // Of an unknown camera nobody knows how far away it was, and 1 mm of height could be 0.1 or 0.2 % of length.
    const simulated = onePhoto(2, true);
    const [right, higher] = [1, 1.1].map((heightMm) => {
      const exact = rules(simulated, 2, [0, Math.PI / 2], heightMm);
      const sharp = exact.map((rule) => ({ ...rule, uMm: 1e-3, sigmaPx: 0.01 }));
      return told(estimate(simulated.input, sharp).scale.x);
    });
    // A tenth of a millimetre closer to the camera, a rule looks larger and the grid beside it smaller.
    const doubt = 0.1 / simulated.scene.photos[2].stand.distanceMm;
    const change = (right.value - higher.value) / doubt;
    expect(change).toBeGreaterThan(0.9);
    expect(change).toBeLessThan(1.1);
    expect(right.u).toBeGreaterThan(doubt);
    expect(Math.abs(right.value - simulated.truth.scale.x)).toBeLessThan(right.U);
  });

  it('that are misread contradict a second one, and the En of both says so', () => {
    const simulated = onePhoto(4);
    const [right, wrong] = rules(simulated, 4, [0, 0]);
    const found = estimate(simulated.input, [right, { ...wrong, lengthMm: LENGTH + 2 }]);
    for (const { En } of found.evidence) expect(En).toBeGreaterThan(3);
    const [first, second] = estimate(simulated.input, [right, wrong]).evidence;
    expect(first.En).toBeLessThan(1);
    expect(second.En).toBeLessThan(1);
  });
});

describe('nodes measured on the board', () => {
  const PLACES = { xMm: evenPositions(7, 120), yMm: evenPositions(5, 120) };
  const NODES = PLACES.xMm.flatMap((xMm, i) =>
    PLACES.yMm.map((yMm, j) => ({
      xMm,
      yMm,
      approachX: ((i + j) % 2 === 0 ? 1 : -1) as 1 | -1,
      approachY: ((i >> 1) + j) % 2 === 0 ? (1 as const) : (-1 as const),
    })),
  );
  const ROTATION = 0.4;

  function withNodes(simulated: SimulatedNetwork, seed: number, beside: boolean): NetworkInput {
    const { input, scene } = simulated;
    const measured = measureNodes(scene, NODES, {
      sigmaMm: 0.01,
      sigmaMarkMm: 0.015,
      rotationRad: ROTATION,
      shiftMm: [1000, -300],
      scale: 1,
      seed,
    });
    const own = { photos: beside ? input.photos : [], cameras: beside ? input.cameras : [] };
    const first = beside ? input.segments.length : 0;
    const photo = own.photos.length;
    // Nodes by themselves show no more bends than their own rows can.
    const layout = beside
      ? input.layout
      : {
          ...input.layout,
          linesAtX: PLACES.xMm,
          linesAtY: PLACES.yMm,
          rungsAtX: [],
          rungsAtY: [],
        };
    return {
      ...input,
      ...own,
      layout,
      placements: [
        ...input.placements,
        { rotationRad: ROTATION + 1e-3, shiftMm: [1001, -301], instrumentScaleU: 2e-5 },
      ],
      segments: [
        ...(beside ? input.segments : []),
        ...NODES.flatMap(({ xMm, yMm, approachX, approachY }) => [
          {
            placement: 1,
            axis: 'x' as const,
            line: layout.linesAtX.indexOf(xMm),
            xMm,
            yMm,
            approach: approachX,
          },
          {
            placement: 1,
            axis: 'y' as const,
            line: layout.linesAtY.indexOf(yMm),
            xMm,
            yMm,
            approach: approachY,
          },
        ]),
      ],
      observations: [
        ...(beside ? input.observations : []),
        ...measured.flatMap(([uPx, vPx], k) =>
          [ROTATION, ROTATION + Math.PI / 2].map((turn, axis) => ({
            photo,
            segment: first + 2 * k + axis,
            uPx,
            vPx,
            normalU: Math.cos(turn),
            normalV: Math.sin(turn),
            sigmaPx: 0.01,
          })),
        ),
      ],
    };
  }

  it('fix everything without a photo, in a frame of their own, and U holds the truth', () => {
    const found: { name: string; off: number; U: number }[] = [];
    for (let seed = 1; seed <= 20; seed++) {
      const simulated = onePhoto(seed);
      const e = estimate(withNodes(simulated, seed, false));
      // Slopes and bends are those over the measured rows.
      const truth = machineTruth(simulated.scene.machine, gridProgram(PLACES).strokes);
      for (const [name, quantity, value] of [
        ['squareness', e.squareness, truth.squareness],
        ['ratio', e.scale.ratio, truth.scale.ratio],
        ['scale x', e.scale.x, truth.scale.x],
        ['scale y', e.scale.y, truth.scale.y],
        ['lost x', e.lostMotion.x, truth.lostMotion.x],
        ['lost y', e.lostMotion.y, truth.lostMotion.y],
        ['straight x', e.straightness.x, truth.straightness.x],
        ['straight y', e.straightness.y, truth.straightness.y],
        ['racking', e.racking, truth.racking],
      ] as const) {
        expect(quantity.state).toBe('measured');
        found.push({ name, off: Math.abs(told(quantity).value - value), U: told(quantity).U });
      }
    }
    const inside = found.filter(({ off, U }) => off <= U).length / found.length;
    expect(inside).toBeGreaterThanOrEqual(0.92);
    // Nor is U a wild guess: a normal error passes one standard uncertainty in 32 % of cases.
    const reached = found.filter(({ off, U }) => off > U / 2).length / found.length;
    expect(reached).toBeGreaterThanOrEqual(0.15);
  });

  it('beside one photo make squareness and scales measured', () => {
    const simulated = onePhoto(6);
    const e = estimate(withNodes(simulated, 6, true));
    expect(statesOf(e)).toEqual(['yes', 'yes', 'yes', 'yes']);
    const { value, U, share } = told(e.squareness);
    expect(Math.abs(value - simulated.truth.squareness)).toBeLessThan(U);
    expect(share?.evidence).toBeGreaterThan(0.2);
  });

  it('leave a node out that lies elsewhere', () => {
    const simulated = onePhoto(7);
    const input = withNodes(simulated, 7, false);
    const at = input.observations.length - 20;
    const spoilt = input.observations.map((o, i) => (i === at ? { ...o, uPx: o.uPx + 1 } : o));
    const { stochastic, network } = unwrap(adjust({ ...input, observations: spoilt }));
    const { segment } = network.input.observations[at];
    expect(stochastic.keep[at] * stochastic.keepSegment[segment]).toBe(0);
    const kept = spoilt.filter(
      (o, i) => stochastic.keep[i] * stochastic.keepSegment[o.segment] > 0,
    );
    expect(kept.length).toBeGreaterThan(spoilt.length - 4);
  });
});
