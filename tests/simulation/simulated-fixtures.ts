/** Fixtures with chosen faults at the level of measured points, and how well the answer meets the truth. */

import { createRandomSource, type RandomSource } from '../../samples/random-source.js';
import {
  type JudgedFixture,
  judgeFixture,
  type Layout,
  type MachineAffine,
  type MeasuredPlace,
} from '../../src/fixture/index.js';

export type Fault =
  | 'nothing'
  | 'offset'
  | 'rotation'
  | 'bad dowel'
  | 'swollen'
  | 'machine skew'
  | 'doubled'
  | 'several bad';

export interface SimulatedFixture {
  readonly fault: Fault;
  readonly layout: Layout;
  readonly places: readonly MeasuredPlace[];
  readonly machine: MachineAffine;
  /** In true millimetres; rad anticlockwise. */
  readonly truth: {
    /** The middle of the features that are not off by themselves, and its shift. */
    readonly aboutMm: readonly [number, number];
    readonly shiftMm: readonly [number, number];
    readonly rotationRad: number;
    readonly culprit?: number;
  };
}

export interface FixtureOptions {
  readonly features?: number;
  readonly scatterMm?: number;
  readonly sigmaMm?: number;
}

/** Its own arithmetic: true places first, then what a skewed machine would have to be told to reach them. */
export function simulateFixture(
  fault: Fault,
  seed: number,
  { features: count = 8, scatterMm = 0.02, sigmaMm = 0.012 }: FixtureOptions = {},
): SimulatedFixture {
  const random = createRandomSource(seed);
  const sign = () => (random.uniform() < 0.5 ? -1 : 1);
  const [width, height] = [random.between(300, 600), random.between(200, 400)];
  const [left, low] = [random.between(20, 200), random.between(20, 200)];
  const columns = Math.ceil(count / 2);
  const nominal = Array.from({ length: count }, (_, i) => [
    left + (width * (i % columns)) / (columns - 1) + random.between(-15, 15),
    low + height * Math.floor(i / columns) + random.between(-15, 15),
  ]);
  const centre = [0, 1].map((axis) => nominal.reduce((sum, at) => sum + at[axis]!, 0) / count);
  const machineIsOff = fault === 'machine skew' || fault === 'doubled';
  const truth = {
    scaleX: machineIsOff ? random.between(-1e-3, 1e-3) : random.between(-1e-4, 1e-4),
    scaleY: machineIsOff ? random.between(-1e-3, 1e-3) : random.between(-1e-4, 1e-4),
    square: machineIsOff ? sign() * random.between(1e-3, 2.5e-3) : random.between(-5e-5, 5e-5),
  };
  // What a measurement of the machine would state: squareness to 0.1 mm/m, scales to 0.05 mm/m (U).
  const [uScale, uSquare] = [2.5e-5, 5e-5];
  const covariance = new Float64Array(9);
  covariance[0] = uScale ** 2;
  covariance[4] = uScale ** 2;
  covariance[8] = uSquare ** 2;
  const machine: MachineAffine = {
    values: [
      truth.scaleX + uScale * random.normal(),
      truth.scaleY + uScale * random.normal(),
      truth.square + uSquare * random.normal(),
    ],
    covariance,
    ownCovariance: covariance,
    isSquarenessKnown: true,
    isRatioKnown: true,
    isScaleKnown: true,
  };
  const isMoved = fault !== 'nothing';
  const shift = isMoved
    ? [sign() * random.between(0.2, 2), sign() * random.between(0.2, 2)]
    : [0, 0];
  const rotation =
    fault === 'rotation' || (fault !== 'offset' && fault !== 'nothing' && random.uniform() < 0.5)
      ? sign() * random.between(5e-4, 5e-3)
      : 0;
  const stretch =
    fault === 'swollen'
      ? [sign() * random.between(6e-4, 2e-3), random.between(-1e-3, 1e-3)]
      : [0, 0];
  const culprits = fault === 'bad dowel' ? 1 : fault === 'several bad' ? Math.floor(count / 2) : 0;
  const first = Math.floor(random.uniform() * count);
  const bad = Array.from({ length: culprits }, (_, i) => (first + 2 * i) % count);
  const meant: { from: readonly number[]; to: readonly number[] }[] = [];
  const places = nominal.map(([x, y], feature): MeasuredPlace => {
    // The pattern in its own frame.
    const own = patternOf(fault, truth, [x! - centre[0]!, y! - centre[1]!]);
    let [px, py] = [own[0] * (1 + stretch[0]!), own[1] * (1 + stretch[1]!)];
    const turned = (x: number, y: number) => [
      centre[0]! + shift[0]! + Math.cos(rotation) * x - Math.sin(rotation) * y,
      centre[1]! + shift[1]! + Math.sin(rotation) * x + Math.cos(rotation) * y,
    ];
    meant.push({ from: [x!, y!], to: turned(px, py) });
    px += scatterMm * random.normal();
    py += scatterMm * random.normal();
    if (bad.includes(feature)) {
      const [size, way] = [random.between(0.2, 1), random.between(0, 2 * Math.PI)];
      px += size * Math.cos(way);
      py += size * Math.sin(way);
    }
    const [X, Y] = turned(px, py) as [number, number];
    // Where the machine would have to be sent.
    const my = Y / (1 + truth.scaleY);
    const mx = (X - truth.square * my) / (1 + truth.scaleX);
    return {
      feature,
      values: [mx + sigmaMm * random.normal(), my + sigmaMm * random.normal()],
      covariance: [sigmaMm ** 2, 0, sigmaMm ** 2],
    };
  });
  return {
    fault,
    layout: layoutOf(nominal, scatterMm),
    places,
    machine,
    truth: {
      ...bestMove(meant.filter((_, i) => culprits !== 1 || i !== first)),
      ...(culprits === 1 ? { culprit: first } : {}),
    },
  };
}

/** Rotation and shift that bring one pattern nearest to the other: closed form in the plane. */
function bestMove(pairs: readonly { from: readonly number[]; to: readonly number[] }[]) {
  const middle = (side: 'from' | 'to', axis: 0 | 1) =>
    pairs.reduce((sum, pair) => sum + pair[side][axis]!, 0) / pairs.length;
  const [fx, fy, tx, ty] = [middle('from', 0), middle('from', 1), middle('to', 0), middle('to', 1)];
  let [cross, dot] = [0, 0];
  for (const { from, to } of pairs) {
    const [ax, ay, bx, by] = [from[0]! - fx, from[1]! - fy, to[0]! - tx, to[1]! - ty];
    cross += ax * by - ay * bx;
    dot += ax * bx + ay * by;
  }
  return {
    aboutMm: [fx, fy] as const,
    shiftMm: [tx - fx, ty - fy] as const,
    rotationRad: Math.atan2(cross, dot),
  };
}

/**
 * Fixtures of a square machine are as drawn whichever made them; those of a skewed one are true (another one made
 * them), or have its error twice.
 */
function patternOf(
  fault: Fault,
  { scaleX, scaleY, square }: { scaleX: number; scaleY: number; square: number },
  [x, y]: readonly [number, number],
): readonly [number, number] {
  const times = fault === 'doubled' ? 2 : 0;
  return [x + times * (scaleX * x + square * y), y + times * scaleY * y];
}

function layoutOf(
  nominal: readonly (readonly (number | undefined)[])[],
  scatterMm: number,
): Layout {
  return {
    clearanceMm: 0,
    searchMm: 3,
    features: nominal.map(([x, y], i) => ({
      name: `D${i + 1}`,
      kind: 'dowel' as const,
      atMm: [x!, y!] as const,
      heightMm: 0,
      heightUMm: 0,
      isHeightKnown: true,
      scatterMm,
      toleranceMm: 0.2,
    })),
  };
}

const RIGHT: Record<Fault, readonly string[]> = {
  nothing: ['nothing'],
  offset: ['fixture'],
  rotation: ['fixture'],
  'bad dowel': ['one feature'],
  swollen: ['board'],
  'machine skew': ['machine'],
  doubled: ['machine'],
  'several bad': ['none of these'],
};

export interface FixtureScore {
  readonly trials: number;
  /** Offsets and rotations on the board within U. */
  readonly within: number;
  readonly of: number;
  readonly right: number;
  readonly cannotTell: number;
  readonly wrong: Readonly<Record<string, number>>;
  /** Of bad dowels. */
  readonly culpritRight: number;
}

export function scoreFixtures(
  fault: Fault,
  seeds: readonly number[],
  options: FixtureOptions = {},
): FixtureScore {
  const score = { within: 0, of: 0, right: 0, cannotTell: 0, culpritRight: 0 };
  const wrong: Record<string, number> = {};
  for (const seed of seeds) {
    const fixture = simulateFixture(fault, seed, options);
    const judged = judgeFixture(fixture.layout, fixture.places, fixture.machine);
    const which = judged.cause?.which ?? 'cannot tell';
    if (RIGHT[fault].includes(which)) score.right++;
    else if (which === 'cannot tell') score.cannotTell++;
    else wrong[which] = (wrong[which] ?? 0) + 1;
    const { culprit } = fixture.truth;
    if (culprit !== undefined && judged.cause?.feature === `D${culprit + 1}`) score.culpritRight++;
    for (const hit of hits(fixture, judged)) {
      score.of++;
      if (hit) score.within++;
    }
  }
  return { trials: seeds.length, ...score, wrong };
}

function hits({ truth }: SimulatedFixture, { onBoard }: JudgedFixture): boolean[] {
  if (onBoard === undefined) return [];
  const { offset, rotation, at } = onBoard;
  // A culprit that was not left out moves the place that is told of.
  const [x, y] = [at.x - truth.aboutMm[0], at.y - truth.aboutMm[1]];
  const c = Math.cos(truth.rotationRad) - 1;
  const s = Math.sin(truth.rotationRad);
  const expected = [truth.shiftMm[0] + c * x - s * y, truth.shiftMm[1] + s * x + c * y];
  return [
    Math.abs(offset.x.value - expected[0]!) <= offset.x.U,
    Math.abs(offset.y.value - expected[1]!) <= offset.y.U,
    Math.abs(rotation.value - truth.rotationRad) <= rotation.U,
  ];
}

export function seedsFrom(first: number, count: number): number[] {
  return Array.from({ length: count }, (_, i) => first + i);
}

export type { RandomSource };
