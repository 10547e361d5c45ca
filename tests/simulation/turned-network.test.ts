/**
 * A board marked twice with a quarter turn between tells squareness and the ratio of the scales from one photo
 * of any camera. The whole table is printed by the bench of the same subject.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import {
  adjust,
  compareFresh,
  compareMethods,
  estimateMachine,
  type NetworkInput,
} from '../../src/network/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { judgeBoard, tabulate, type Verdict } from './coverage.js';
import { BOWED, drawTurnedBoard, type TurnedPlan } from './turned-boards.js';

const BOARDS = 12;

function told(input: NetworkInput) {
  return estimateMachine(unwrap(adjust(input)));
}

describe(`${BOARDS} bowed boards turned by a quarter, one photo each of an unknown camera`, () => {
  const boards: Verdict[][] = [];
  const of = (name: string) => boards.flatMap((board) => board.filter((one) => one.name === name));

  beforeAll(() => {
    for (let seed = 501; seed < 501 + BOARDS; seed++) {
      const { input, truth } = drawTurnedBoard(BOWED, seed);
      boards.push(judgeBoard(input, truth));
    }
  });

  it('measure squareness and ratio to some hundredths of a mm/m', () => {
    for (const name of ['squareness', 'ratio']) {
      expect(of(name).map(({ state }) => state)).toEqual(Array(BOARDS).fill('measured'));
      for (const { error, u } of of(name)) {
        expect(Math.abs(error), name).toBeLessThan(5e-5);
        expect(u, name).toBeLessThan(1.6e-5);
      }
    }
  });

  it('hold the truth in nine of ten intervals and more', () => {
    const all = boards.flat().filter(({ state }) => state !== 'undetermined');
    const inside = all.filter(({ error, u }) => Math.abs(error) <= 1.96 * u).length;
    expect(inside / all.length).toBeGreaterThan(0.9);
  });

  it('scatter as their marks must, not more: the bound of Cramér and Rao', () => {
    // Of 24 values a scatter is known to 15 %.
    const rows = tabulate(boards).filter(({ quantity }) =>
      ['squareness', 'ratio'].includes(quantity),
    );
    const mean = rows.reduce((sum, { overBound }) => sum + overBound, 0) / 2;
    expect(mean).toBeGreaterThan(0.6);
    expect(mean).toBeLessThan(1.5);
  });

  it('do not call a bend straight that only a lens without a swirl could vouch for', () => {
    for (const name of ['straightness x', 'straightness y']) {
      expect(of(name).filter(({ state }) => state === 'measured').length).toBeLessThan(3);
    }
  });
});

describe('a turned board', () => {
  it('leaves squareness alone where the picture was cropped and sheared by an editor', () => {
    // Cut at the left and at the top, then sheared and stretched: no camera that is believed in does that.
    const edited = (u: number, v: number) => [0.97 * (u - 300) + 0.02 * v, v - 150] as const;
    const { input, truth } = drawTurnedBoard({ ...BOWED, edited }, 7);
    const { squareness } = told(input);
    if (squareness.state !== 'measured') throw new Error('squareness is measured');
    expect(squareness.u).toBeLessThan(2e-5);
    expect(Math.abs(squareness.value - truth.squareness)).toBeLessThan(3 * squareness.u);
  });

  it('tells less the less it was turned, as the sine of the turn', () => {
    const uOf = (turn: number) => {
      const { squareness } = told(drawTurnedBoard({ ...BOWED, turnsDeg: [0, turn] }, 9).input);
      return squareness.state === 'undetermined' ? Number.NaN : squareness.u;
    };
    const quarter = uOf(90);
    expect(uOf(45) / quarter).toBeGreaterThan(1.1);
    expect(uOf(45) / quarter).toBeLessThan(3);
    expect(uOf(10) / quarter).toBeGreaterThan(3);
  });

  it('tells nothing after half a turn, and says so', () => {
    const { squareness, scale, lostMotion } = told(
      drawTurnedBoard({ ...BOWED, turnsDeg: [0, 180] }, 11).input,
    );
    for (const quantity of [squareness, scale.ratio]) {
      if (quantity.state !== 'undetermined') throw new Error('half a turn fixes nothing');
      expect(quantity.reason).toMatch(/half a turn maps every machine error/);
      expect(quantity.add.join()).toMatch(/quarter turn/);
    }
    expect(lostMotion.x.state).toBe('measured');
  });

  it('measures straightness with a third, shifted placement', () => {
    const plan: TurnedPlan = {
      ...BOWED,
      turnsDeg: [0, 90, 0],
      shiftsMm: [
        [0, 0],
        [0, 0],
        [200, 100],
      ],
    };
    const { straightness } = told(drawTurnedBoard(plan, 13).input);
    expect(straightness.x.state).toBe('measured');
    expect(straightness.y.state).toBe('measured');
  });

  it('agrees with what two overhead photos and a believed camera say', () => {
    const plan: TurnedPlan = {
      turnsDeg: [0, 90],
      tiltDeg: [0, 2],
      rolls: [0, 90],
      lensState: 'corrected',
      focalKnown: true,
    };
    const both = compareMethods(unwrap(adjust(drawTurnedBoard(plan, 15).input)));
    if (both === undefined) throw new Error('both methods have a solution');
    const { turned, photos, En } = both.squareness;
    if (turned.state !== 'measured' || photos.state === 'undetermined' || En === undefined) {
      throw new Error('both tell squareness');
    }
    expect(turned.U).toBeLessThan(photos.U / 2);
    expect(En).toBeCloseTo(
      Math.abs(turned.value - photos.value) / Math.sqrt(turned.U ** 2 + photos.U ** 2),
      9,
    );
    expect(En).toBeLessThan(1.5);
  });
});

describe('fresh marks beside old ones', () => {
  it('tell what changed in between, from one photo, and nothing where the board was turned', () => {
    const plan: TurnedPlan = {
      ...BOWED,
      turnsDeg: [0, 0],
      tiltDeg: [0, 10],
      focalKnown: true,
      machines: [
        (drawn) => drawn,
        (drawn) => ({
          ...drawn,
          squarenessRad: drawn.squarenessRad + 3e-4,
          scaleX: drawn.scaleX - 2e-4,
          lostMotionYMm: drawn.lostMotionYMm + 0.05,
        }),
      ],
    };
    const { input } = drawTurnedBoard(plan, 17);
    const [change] = unwrap(compareFresh(input));
    for (const [quantity, expected] of [
      [change!.squareness, 3e-4],
      [change!.scale.x, -2e-4],
      [change!.scale.y, 0],
      [change!.lostMotion.x, 0],
      [change!.lostMotion.y, 0.05],
    ] as const) {
      if (quantity.state !== 'measured') throw new Error('the change is measured');
      expect(Math.abs(quantity.value - expected)).toBeLessThan(3 * quantity.u);
      expect(quantity.u).toBeLessThan(quantity.unit === 'mm' ? 0.01 : 6e-5);
    }
    const turned = drawTurnedBoard({ ...plan, turnsDeg: [0, 90] }, 17).input;
    expect(unwrap(compareFresh(turned))[0]!.squareness.state).toBe('undetermined');
  });
});
