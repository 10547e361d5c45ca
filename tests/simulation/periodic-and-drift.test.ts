/**
 * Errors that repeat with a turn of the drive and what creeps while marking, on laid-out grids, against
 * the scene generator's truth. Without pictures.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import type { Scene } from '../../samples/index.js';
import type { Quantity } from '../../shared/schemas/measurement.js';
import type { Stroke } from '../../shared/stroke.js';
import { adjust, estimateMachine, type MachineEstimates } from '../../src/network/index.js';
import { layOutGrid, writeFlatProgram } from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { BENCH } from '../unit/plan/plan-choices.js';
import { simulateNetwork } from './simulated-network.js';

const LEAD_MM = 5;
const PINION_MM = 94.248;
const BOARDS = 10;
/** Four photos, one at each quarter turn: enough, and soon done. */
const PHOTOS = [0, 1, 2, 3];
const PATIENCE_MS = 400_000;

function laidOut(): readonly Stroke[] {
  const plan = unwrap(
    layOutGrid({ ...BENCH, travelMm: [900, 600], periodsMm: { x: LEAD_MM, y: PINION_MM } }),
  );
  const text = writeFlatProgram(plan, 'grid.ngc');
  return unwrap(readProgram(text, { name: 'grid.ngc', marking: 'laser', blockDelete: false }))
    .strokes;
}

interface Errors {
  readonly amplitudeMm: readonly [x: number, y: number];
  readonly driftMm: readonly [x: number, y: number];
}

function measure(
  seed: number,
  strokes: readonly Stroke[],
  { amplitudeMm, driftMm }: Errors,
): MachineEstimates {
  const wave = (position: Scene['machine']['positionX'], amplitude: number, periodMm: number) => ({
    ...position,
    periodic: { amplitudeMm: amplitude, periodMm, phaseRad: seed },
  });
  const { input } = simulateNetwork({
    seed,
    sigmaPx: 0.05,
    sigmaMarkMm: 0.015,
    photos: PHOTOS,
    focalKnown: true,
    taped: true,
    strokes,
    periodsMm: { x: LEAD_MM, y: PINION_MM },
    errors: (drawn) => ({
      ...drawn,
      driftXMm: driftMm[0],
      driftYMm: driftMm[1],
      positionX: wave(drawn.positionX, amplitudeMm[0], LEAD_MM),
      positionY: wave(drawn.positionY, amplitudeMm[1], PINION_MM),
    }),
  });
  return estimateMachine(unwrap(adjust(input)));
}

/** Mean order of the marks of the first line at constant X or Y, the repeated ones and the others. */
function elapsedBetween(strokes: readonly Stroke[], axis: 0 | 1): number {
  const onFirst = strokes.filter((s) => s.fromMm[axis] === 0 && s.toMm[axis] === 0);
  const isLast = (s: Stroke) => s.id > 0.9 * strokes.length;
  const mean = (list: readonly Stroke[]) => list.reduce((sum, s) => sum + s.id, 0) / list.length;
  return (
    (mean(onFirst.filter(isLast)) - mean(onFirst.filter((s) => !isLast(s)))) / (strokes.length - 1)
  );
}

function isInside(quantity: Quantity, truth: number): boolean {
  return quantity.state !== 'undetermined' && Math.abs(quantity.value - truth) <= quantity.U;
}

describe('a laid-out grid of 900 × 600 mm', () => {
  const strokes = laidOut();
  const cases = [
    { amplitudeMm: [0, 0], driftMm: [0, 0] },
    { amplitudeMm: [0.03, 0.05], driftMm: [0.08, -0.05] },
  ] as const;
  const found: { quantity: Quantity; truth: number; name: string }[] = [];
  beforeAll(() => {
    for (let seed = 1; seed <= BOARDS; seed += 1) {
      const errors = cases[seed % 2]!;
      const { periodic, drift } = measure(seed, strokes, errors);
      for (const [axis, k] of [
        ['x', 0],
        ['y', 1],
      ] as const) {
        const truth = errors.driftMm[k] * elapsedBetween(strokes, k);
        found.push({ name: 'drift', quantity: drift[axis], truth });
        found.push({ name: 'periodic', quantity: periodic[axis], truth: errors.amplitudeMm[k] });
      }
    }
  }, PATIENCE_MS);
  const of = (name: string) => found.filter((one) => one.name === name);

  it('measures both on every board', () => {
    expect(found.filter(({ quantity }) => quantity.state !== 'measured')).toEqual([]);
  });

  // Of 20 intervals at 95 %, 15 or fewer would hold the truth in 3 of 1000 runs (binomial).
  it.each(['periodic', 'drift'])(
    '%s: the interval holds the truth in at least 16 of 20 cases',
    (name) => {
      const inside = of(name).filter(({ quantity, truth }) => isInside(quantity, truth)).length;
      expect(inside).toBeGreaterThanOrEqual(16);
    },
  );

  it.each([
    ['periodic', 0.02],
    ['drift', 0.025],
  ])('%s is known to within %d mm', (name, most) => {
    for (const { quantity } of of(name)) {
      expect(quantity.state === 'undetermined' ? Number.NaN : quantity.U).toBeLessThan(most);
    }
  });
});

describe('a grid whose spacing is a multiple of the lead', () => {
  it(
    'without ladders leaves the error of the lead undetermined, and says what shows it',
    () => {
      const bare = laidOut().filter(({ fromMm, toMm }) => {
        const lengthMm = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
        return lengthMm > 31 || fromMm[0] === 0 || fromMm[1] === 0;
      });
      // The outline stands at other phases: it goes as well.
      const inside = bare.filter(({ fromMm, toMm }) =>
        [fromMm, toMm].every(([x, y]) => x > -20 && y > -20 && x < 870 && y < 570),
      );
      const strokes = inside.map((stroke, id) => ({ ...stroke, id }));
      const { periodic } = measure(3, strokes, { amplitudeMm: [0.03, 0.03], driftMm: [0, 0] });
      expect(periodic.x.state).toBe('undetermined');
      expect(periodic.x.state === 'undetermined' && periodic.x.add.join()).toContain('ladder');
      // A pinion's travel is no multiple of the spacing: the lines alone meet it at many phases.
      expect(periodic.y.state).toBe('measured');
    },
    PATIENCE_MS,
  );
});
