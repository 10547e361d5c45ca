/** Forecasts of turned boards against adjustments of simulated ones: one photo of an unknown camera each. */
import { describe, expect, it } from 'vitest';
import type { ForecastName } from '../../shared/schemas/forecast.js';
import { foretellSet } from '../../src/forecast/foretell-set.js';
import { adjust, estimateMachine } from '../../src/network/index.js';
import { quantitiesByKey, unwrap } from '../../src/quantity/index.js';
import { drawTurnedBoard, TURNED_NOISE, type TurnedPlan } from './turned-boards.js';
import { USUAL_SIZES } from './usual-sizes.js';

const SEEDS = [1, 2, 3, 4, 5];
const TILT_DEG = 10;
const NAMES = ['squareness', 'scale.ratio', 'lostMotion.x', 'lostMotion.y', 'racking'] as const;
/** Five boards scatter; each estimates the sizes of its bends for itself. */
const TOLERANCE = 0.15;

const planOf = (turnDeg: number): TurnedPlan => ({
  turnsDeg: [0, turnDeg],
  tiltDeg: [TILT_DEG, TILT_DEG],
  bowMm: 0.3,
});

function measured(turnDeg: number) {
  return SEEDS.map((seed) => {
    const { input } = drawTurnedBoard(planOf(turnDeg), seed);
    return quantitiesByKey(estimateMachine(unwrap(adjust(input))));
  });
}

function foretold(turnDeg: number) {
  const { layout, placements, segments, cameras } = drawTurnedBoard(planOf(turnDeg), 1).input;
  const { widthPx, heightPx } = cameras[0]!;
  const set = foretellSet(
    {
      layout,
      placements,
      segments,
      camera: { widthPx, heightPx, focalLengthPx: 3060, focalLengthKnown: false, k1: 0, k2: 0 },
      fill: 0.86,
      evidence: [],
      ...TURNED_NOISE,
      sizes: USUAL_SIZES,
    },
    [{ kind: 'overhead', count: 1, tiltRad: (TILT_DEG * Math.PI) / 180 }],
  );
  return (name: ForecastName) => set!.quantities.find(({ what }) => what === name)!;
}

describe.each([90, 45])('a forecast of a board turned by %i°', (turnDeg) => {
  it('comes near the uncertainties that measurements state', () => {
    const tell = foretold(turnDeg);
    const boards = measured(turnDeg);
    for (const name of NAMES) {
      const sizes = boards
        .map((board) => board[name])
        .flatMap((one) => (one.state === 'undetermined' ? [] : [one.U]))
        .sort((a, b) => a - b);
      expect(sizes.length, name).toBe(SEEDS.length);
      const { state, U } = tell(name);
      expect(state, name).toBe('measured');
      expect(Math.abs(U! / sizes[sizes.length >> 1]! - 1), name).toBeLessThan(TOLERANCE);
    }
  });
});

describe('a forecast of a board turned by half a turn', () => {
  it('leaves open what the measurement leaves open, and tells what it tells', () => {
    const tell = foretold(180);
    const [board] = measured(180);
    for (const name of NAMES) {
      expect(tell(name).state === 'undetermined', name).toBe(board![name].state === 'undetermined');
    }
    expect(tell('squareness').state).toBe('undetermined');
    expect(tell('lostMotion.x').state).toBe('measured');
  });
});
