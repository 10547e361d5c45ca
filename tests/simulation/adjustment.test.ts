/**
 * The adjustment against the scene generator's truth, on projections with noise (no pictures): its
 * camera and machine are code of their own, in another convention.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import type { MachineTruth, Scene } from '../../samples/index.js';
import type { Quantity } from '../../shared/schemas/measurement.js';
import { adjust, estimateMachine, type MachineEstimates } from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { weighCamera } from '../../src/survey/weigh-camera.js';
import { type SimulatedNetworkOptions, simulateNetwork } from './simulated-network.js';

const USUAL: Omit<SimulatedNetworkOptions, 'seed'> = {
  sigmaPx: 0.05,
  sigmaMarkMm: 0.02,
  focalKnown: true,
  taped: true,
};

function measure(options: SimulatedNetworkOptions): {
  estimates: MachineEstimates;
  truth: MachineTruth;
  varianceFactor: number;
} {
  const { input, truth } = simulateNetwork(options);
  const adjustment = unwrap(adjust(input));
  const { varianceFactor } = adjustment;
  return { estimates: estimateMachine(adjustment), truth, varianceFactor };
}

function pairs(
  estimates: MachineEstimates,
  truth: MachineTruth,
): [name: string, quantity: Quantity, truth: number][] {
  return [
    ['squareness', estimates.squareness, truth.squareness],
    ['scale x', estimates.scale.x, truth.scale.x],
    ['scale y', estimates.scale.y, truth.scale.y],
    ['ratio', estimates.scale.ratio, truth.scale.ratio],
    ['lost motion x', estimates.lostMotion.x, truth.lostMotion.x],
    ['lost motion y', estimates.lostMotion.y, truth.lostMotion.y],
    ['straightness x', estimates.straightness.x, truth.straightness.x],
    ['straightness y', estimates.straightness.y, truth.straightness.y],
    ['racking', estimates.racking, truth.racking],
  ];
}

describe('eight boards, eight photos each', () => {
  const BOARDS = 8;
  const found: { name: string; quantity: Quantity; truth: number }[] = [];
  const varianceFactors: number[] = [];
  beforeAll(() => {
    for (let seed = 1; seed <= BOARDS; seed++) {
      const { estimates, truth, varianceFactor } = measure({ ...USUAL, seed });
      varianceFactors.push(varianceFactor);
      for (const [name, quantity, value] of pairs(estimates, truth)) {
        found.push({ name, quantity, truth: value });
      }
    }
  });
  const errors = (name: string) =>
    found
      .filter((f) => f.name === name)
      .map(({ quantity, truth }) =>
        quantity.state === 'undetermined' ? Number.NaN : Math.abs(quantity.value - truth),
      );

  it('every quantity is measured', () => {
    expect(found.filter((f) => f.quantity.state !== 'measured').map((f) => f.name)).toEqual([]);
  });

  it('weighted squares come to the redundancy once the variance components are estimated', () => {
    // Förstner (1979): that is what the components are estimated by.
    for (const factor of varianceFactors) expect(Math.abs(factor - 1)).toBeLessThan(0.05);
  });

  it('squareness comes within 0.06 mm/m on all but one', () => {
    expect(errors('squareness').filter((e) => e <= 6e-5).length).toBeGreaterThanOrEqual(BOARDS - 1);
  });

  it('lost motion comes within 0.01 mm on all', () => {
    const all = [...errors('lost motion x'), ...errors('lost motion y')];
    expect(Math.max(...all)).toBeLessThanOrEqual(0.01);
  });

  it('at least 92 % of all truths lie within ± U', () => {
    const inside = found.filter(
      ({ quantity, truth }) =>
        quantity.state !== 'undetermined' && Math.abs(quantity.value - truth) <= quantity.U,
    );
    expect(inside.length / found.length).toBeGreaterThanOrEqual(0.92);
  });

  it('no U is a wild guess: errors of lost motion and straightness reach half of it now and then', () => {
    const reached = found.filter(
      ({ name, quantity, truth }) =>
        /lost|straight/.test(name) &&
        quantity.state !== 'undetermined' &&
        Math.abs(quantity.value - truth) > quantity.U / 2,
    );
    // A normal error passes one standard uncertainty in 32 % of cases.
    expect(reached.length).toBeGreaterThanOrEqual(0.15 * 4 * BOARDS);
  });
});

describe('boards that are not flat', () => {
  it('a bow and a twist of half a millimetre are found and leave squareness alone', () => {
    const shape = [0.4, -0.3, 0.5] as const;
    for (const seed of [1, 2, 3, 4]) {
      const { estimates, truth } = measure({ ...USUAL, seed, boardMm: shape });
      const { squareness, board } = estimates;
      if (squareness.state === 'undetermined') throw new Error('squareness must be told here');
      expect(Math.abs(squareness.value - truth.squareness)).toBeLessThan(
        Math.min(8e-5, squareness.U),
      );
      const found = [board?.bowX, board?.bowY, board?.twist];
      found.forEach((term, k) => {
        expect(Math.abs((term?.value ?? 0) - shape[k])).toBeLessThan(3 * (term?.u ?? 0));
        expect(term?.u).toBeLessThan(0.2);
      });
    }
  });
});

describe('what the evidence does not fix is not told', () => {
  const statesOf = ({ estimates: e }: { estimates: MachineEstimates }) => ({
    squareness: e.squareness.state,
    scaleX: e.scale.x.state,
    scaleY: e.scale.y.state,
    ratio: e.scale.ratio.state,
    lostMotionX: e.lostMotion.x.state,
    lostMotionY: e.lostMotion.y.state,
  });

  it('one photo of an unknown camera tells lost motion and nothing else', () => {
    for (const photo of [0, 1, 6]) {
      const one = measure({ ...USUAL, seed: 2, photos: [photo], focalKnown: false, taped: false });
      expect(statesOf(one)).toEqual({
        squareness: 'undetermined',
        scaleX: 'undetermined',
        scaleY: 'undetermined',
        ratio: 'undetermined',
        lostMotionX: 'measured',
        lostMotionY: 'measured',
      });
    }
  });

  it('four photos, one of each quarter turn, measure squareness and ratio whatever the focal length', () => {
    for (const seed of [3, 5, 11]) {
      const { estimates, truth } = measure({
        ...USUAL,
        seed,
        photos: [0, 1, 2, 3],
        focalKnown: false,
      });
      for (const [quantity, value] of [
        [estimates.squareness, truth.squareness],
        [estimates.scale.ratio, truth.scale.ratio],
      ] as const) {
        expect(quantity.state).toBe('measured');
        if (quantity.state === 'undetermined') throw new Error('unreachable');
        expect(Math.abs(quantity.value - value)).toBeLessThan(quantity.U);
      }
    }
  });

  it('one photo with a focal length never measures squareness', () => {
    for (const seed of [1, 2, 3]) {
      const { estimates } = measure({ ...USUAL, seed, photos: [3] });
      expect(estimates.squareness.state).not.toBe('measured');
      expect(estimates.scale.ratio.state).not.toBe('measured');
    }
  });

  it('four photos held the same way round never measure squareness, and ask for a quarter turn', () => {
    const scene = { rolls: [0, 0, 0, 0], lensState: 'corrected' as const };
    const { estimates } = measure({ ...USUAL, seed: 4, scene });
    const { squareness } = estimates;
    expect(squareness.state).not.toBe('measured');
    if (squareness.state !== 'measured') expect(squareness.add?.join()).toMatch(/quarter turn/);
  });

  it('without a length the scales are open, their ratio is not', () => {
    const { estimates, truth } = measure({ ...USUAL, seed: 6, taped: false });
    expect(estimates.scale.x.state).toBe('undetermined');
    expect(estimates.scale.y.state).toBe('undetermined');
    expect(estimates.scale.ratio.state).toBe('measured');
    if (estimates.scale.ratio.state === 'undetermined') throw new Error('unreachable');
    expect(Math.abs(estimates.scale.ratio.value - truth.scale.ratio)).toBeLessThan(
      estimates.scale.ratio.U,
    );
    if (estimates.scale.x.state === 'undetermined') {
      expect(estimates.scale.x.add.join()).toMatch(/tape/);
    }
  });

  it('lines that were all approached from one side tell nothing about lost motion', () => {
    const { input } = simulateNetwork({ ...USUAL, seed: 7 });
    const oneSided = {
      ...input,
      segments: input.segments.map((s) => ({ ...s, approach: s.axis === 'x' ? 1 : s.approach })),
    };
    const estimates = estimateMachine(unwrap(adjust(oneSided)));
    expect(estimates.lostMotion.x.state).toBe('undetermined');
    expect(estimates.lostMotion.y.state).toBe('measured');
  });
});

describe('faulty input', () => {
  it('misread marks are found and change squareness by less than a tenth of its U', () => {
    const options = { ...USUAL, seed: 8 };
    const { input } = simulateNetwork(options);
    const wrong = new Set([10, 500, 1200, 3000, 5000]);
    const spoilt = {
      ...input,
      observations: input.observations.map((o, i) =>
        wrong.has(i) ? { ...o, uPx: o.uPx + 3 * o.normalU, vPx: o.vPx + 3 * o.normalV } : o,
      ),
    };
    const clean = estimateMachine(unwrap(adjust(input)));
    const adjustment = unwrap(adjust(spoilt));
    const dirty = estimateMachine(adjustment);
    for (const i of wrong) expect(adjustment.stochastic.keep[i]).toBe(0);
    if (clean.squareness.state === 'undetermined' || dirty.squareness.state === 'undetermined') {
      throw new Error('squareness must be told here');
    }
    expect(Math.abs(clean.squareness.value - dirty.squareness.value)).toBeLessThan(
      0.1 * clean.squareness.U,
    );
  });

  it('a stain on the board that all photos see alike is taken out', () => {
    const { input } = simulateNetwork({ ...USUAL, seed: 9 });
    const bad = 333;
    const spoilt = {
      ...input,
      observations: input.observations.map((o) =>
        o.segment === bad ? { ...o, uPx: o.uPx + 2 * o.normalU, vPx: o.vPx + 2 * o.normalV } : o,
      ),
    };
    const { stochastic } = unwrap(adjust(spoilt));
    const weights = input.observations.map((o, i) =>
      o.segment === bad ? stochastic.keep[i] * stochastic.keepSegment[bad] : 0,
    );
    expect(Math.max(...weights)).toBe(0);
  });

  it('a length misread by 3 mm stands out against another one', () => {
    const { input, truth } = simulateNetwork({ ...USUAL, seed: 10 });
    const [tape] = input.evidence;
    if (tape?.kind !== 'length') throw new Error('a taped length was asked for');
    const along = (x: number) => x * (1 + truth.scale.x);
    const right = { ...tape, what: 'right', fromMm: [0, 0], toMm: [600, 0], lengthMm: along(600) };
    const wrong = { ...right, what: 'wrong', lengthMm: along(600) + 3 };
    const estimates = estimateMachine(
      unwrap(adjust({ ...input, evidence: [tape, right, wrong] as typeof input.evidence })),
    );
    const en = Object.fromEntries(estimates.evidence.map((e) => [e.what, e.En ?? 0]));
    expect(en.wrong).toBeGreaterThan(1);
    expect(en.wrong).toBeGreaterThan(en.right);
  });
});

describe('what no sum of squares shows', () => {
  const sheared = (index: number, skew: number) => (scene: Scene) => ({
    ...scene,
    photos: scene.photos.map((photo, i) =>
      i === index ? { ...photo, lens: { ...photo.lens, pixelSkew: skew } } : photo,
    ),
  });

  it('a photo that a moving hand sheared by 1 mm/m is named and leaves squareness within its U', () => {
    for (const [seed, index] of [
      [3, 2],
      [4, 5],
    ] as const) {
      const { input, truth } = simulateNetwork({
        ...USUAL,
        seed,
        prepare: sheared(index, 1e-3),
      });
      const adjustment = unwrap(adjust(input));
      const names = input.photos.map((_, i) => `photo ${i}`);
      const { squareness, scale } = estimateMachine(adjustment);
      const weighed = weighCamera(adjustment, { squareness, ratio: scale.ratio }, names);
      const departed = weighed.findings.filter(({ code }) => code === 'PHOTO_DEPARTS');
      expect(departed.map(({ where }) => where)).toEqual([`photo ${index}`]);
      expect(departed[0]?.message).toContain('sheared');
      if (weighed.squareness.state === 'undetermined') throw new Error('eight photos tell it');
      expect(Math.abs(weighed.squareness.value - truth.squareness)).toBeLessThan(
        weighed.squareness.U,
      );
    }
  });

  it('tilted photos in which the phone was turned against the walk round the board are named, and tell nothing', () => {
    // Model of the arrangement: each photo a quarter of the way on, from 17°, the phone turned back by a quarter.
    const walked = (sense: 1 | -1) => (scene: Scene) => ({
      ...scene,
      photos: scene.photos.map((photo, i) => ({
        ...photo,
        stand: {
          ...photo.stand,
          azimuthRad: (i * Math.PI) / 2 + 0.3,
          rollRad: (sense * i * Math.PI) / 2 + 0.1,
        },
      })),
    });
    const judged = ([1, -1] as const).map((sense) => {
      const { input, truth } = simulateNetwork({
        ...USUAL,
        seed: 2,
        scene: { tiltDeg: [17, 18], rolls: [0, 90, 180, 270] },
        prepare: walked(sense),
      });
      const adjustment = unwrap(adjust(input));
      const { squareness, scale } = estimateMachine(adjustment);
      const names = input.photos.map((_, i) => `photo ${i}`);
      const { findings } = weighCamera(adjustment, { squareness, ratio: scale.ratio }, names);
      return { squareness, truth, codes: findings.map(({ code }) => code) };
    });
    const [against, along] = judged;
    expect(against?.squareness.state).toBe('undetermined');
    expect(against?.codes).toContain('CAMERA_RESEMBLES_MACHINE');
    expect(along?.codes).not.toContain('CAMERA_RESEMBLES_MACHINE');
    if (along?.squareness.state === 'undetermined') throw new Error('walked along, it is told');
    expect(Math.abs((along?.squareness.value ?? 1) - (along?.truth.squareness ?? 0))).toBeLessThan(
      along?.squareness.U ?? 0,
    );
  });

  it('cameras that behave as is believed raise no doubt', () => {
    for (const seed of [5, 6]) {
      const adjustment = unwrap(adjust(simulateNetwork({ ...USUAL, seed }).input));
      const { squareness, scale } = estimateMachine(adjustment);
      const names = adjustment.network.input.photos.map((_, i) => `photo ${i}`);
      expect(weighCamera(adjustment, { squareness, ratio: scale.ratio }, names).findings).toEqual(
        [],
      );
    }
  });

  it('a stated focal length that is half or one and a half times the true one is not believed', () => {
    for (const [factor, seed] of [
      [0.5, 1],
      [1.5, 2],
    ] as const) {
      const { input, truth } = simulateNetwork({
        ...USUAL,
        seed,
        exifFocalPx: 3040 * factor,
        scene: { tiltDeg: [10, 20], rolls: [0, 90, 180, 270] },
      });
      const adjustment = unwrap(adjust(input));
      expect(adjustment.disbelievedFocals).toEqual([0]);
      const { squareness } = estimateMachine(adjustment);
      if (squareness.state === 'undetermined') continue;
      expect(Math.abs(squareness.value - truth.squareness)).toBeLessThan(1.5 * squareness.U);
    }
  });
});
