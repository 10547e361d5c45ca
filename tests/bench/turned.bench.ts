/**
 * The turned board from one photo of an unknown camera with a strong raw lens: squareness and ratio by tilt,
 * by turn and by bow, and the full table of 100 bowed boards (BOARDS=… for fewer).
 */

import { bench, describe } from 'vitest';
import { adjust, compareMethods } from '../../src/network/index.js';
import { judgeBoard, tabulate } from '../simulation/coverage.js';
import { BOWED, drawTurnedBoard, type TurnedPlan } from '../simulation/turned-boards.js';

const BOARDS = Number(process.env.BOARDS ?? 100);
const FEWER = Math.ceil(BOARDS * 0.4);

const FLAT: TurnedPlan = { turnsDeg: [0, 90], tiltDeg: [0, 40] };

const VARIED: Record<string, TurnedPlan> = {
  'flat, lens as modelled': FLAT,
  'believed camera, bowed': { ...BOWED, beliefs: { camera: 'believed' } },
  'bow of a parabola': { ...FLAT, bowMm: 0.8 },
  'tilt 0 to 2': { ...BOWED, tiltDeg: [0, 2] },
  'tilt 18 to 22': { ...BOWED, tiltDeg: [18, 22] },
  'tilt 38 to 40': { ...BOWED, tiltDeg: [38, 40] },
  'turn 5': { ...BOWED, turnsDeg: [0, 5] },
  'turn 10': { ...BOWED, turnsDeg: [0, 10] },
  'turn 90': BOWED,
  'turn 45': { ...BOWED, turnsDeg: [0, 45] },
  'turn 85': { ...BOWED, turnsDeg: [0, 85] },
  'turn 180': { ...BOWED, turnsDeg: [0, 180] },
  'third placement, shifted': {
    ...BOWED,
    turnsDeg: [0, 90, 0],
    shiftsMm: [
      [0, 0],
      [0, 0],
      [200, 100],
    ],
  },
};

function verdictsOf(plan: TurnedPlan, boards: number) {
  return Array.from({ length: boards }, (_, i) => {
    const { input, truth } = drawTurnedBoard(plan, 1001 + i);
    return judgeBoard(input, truth);
  });
}

function row({ told, inside, scatter, meanU, honesty, overBound }: ReturnType<typeof tabulate>[0]) {
  return {
    told: told.toFixed(2),
    'inside ± 1.96 u': inside.toFixed(3),
    scatter: scatter.toExponential(2),
    'mean U': meanU.toExponential(2),
    'U / (2 scatter)': honesty.toFixed(2),
    'scatter / bound': overBound.toFixed(2),
  };
}

describe('turned board', () => {
  const main = verdictsOf(BOWED, BOARDS);
  console.log(`${BOARDS} bowed boards, one photo each`);
  console.table(tabulate(main).map((one) => ({ quantity: one.quantity, ...row(one) })));
  const errors = main
    .flatMap((board) => board.filter(({ name }) => name === 'squareness'))
    .map(({ error }) => Math.abs(error))
    .sort((a, b) => a - b);
  const within = errors.filter((error) => error <= 3e-5).length;
  console.log(`squareness: median ${errors[errors.length >> 1]}, ${within} within 0.03 mm/m`);
  console.table(
    Object.entries(VARIED).flatMap(([plan, one]) =>
      tabulate(verdictsOf(one, FEWER))
        .filter(({ quantity }) => ['squareness', 'ratio', 'straightness x'].includes(quantity))
        .map((line) => ({ plan, quantity: line.quantity, ...row(line) })),
    ),
  );
  showAgreement();
  bench(
    'one board, one photo',
    () => {
      const { input } = drawTurnedBoard(BOWED, 1);
      adjust(input);
    },
    { iterations: 3, time: 0, warmupIterations: 0, warmupTime: 0 },
  );
});

/** Eight overhead photos of each board, read both ways. */
function showAgreement(): void {
  const rolls = [0, 90, 180, 270, 0, 90, 180, 270];
  const plan: TurnedPlan = {
    turnsDeg: [0, 90],
    tiltDeg: [0, 2],
    rolls,
    lensState: 'corrected',
    focalKnown: true,
    bowMm: 0.8,
  };
  // Eight photos of two grids take ten seconds.
  const boards = Math.ceil(BOARDS / 10);
  const all = Array.from({ length: boards }, (_, i) => {
    const outcome = adjust(drawTurnedBoard(plan, 2001 + i).input);
    return outcome.ok ? compareMethods(outcome.value) : undefined;
  }).flatMap((one) => (one === undefined ? [] : [one]));
  const within = all.filter(({ squareness }) => (squareness.En ?? 9) <= 1).length;
  console.log(`eight photos both ways, ${boards} boards: En of squareness at most 1 on ${within}`);
  for (const way of ['turned', 'photos'] as const) {
    const us = all.flatMap(({ squareness }) => {
      const one = squareness[way];
      return one.state === 'undetermined' ? [] : [one.U];
    });
    console.log(`  U of squareness, ${way}: mean ${us.reduce((a, b) => a + b, 0) / us.length}`);
  }
}
