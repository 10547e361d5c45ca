/**
 * Fresh marks beside old ones: what changed between two markings of one board, told by what both look like in
 * the same photos. Camera, lens and bow are the same for both and drop out, but for a small rest: where the
 * board was laid back turned by a degree, 3.5 % of what is common to both machines passes for a change.
 */

import { COVERAGE_FACTOR, type Quantity } from '../../shared/schemas/measurement.js';
import {
  COMMON_SCALE,
  LOST_MOTION_X,
  LOST_MOTION_Y,
  SCALE_DIFFERENCE,
  SQUARENESS,
} from '../machine/index.js';
import { type Outcome, success } from '../quantity/index.js';
import { type Adjustment, adjust } from './adjust.js';
import { WEAK_LIMIT } from './estimates.js';
import type { NetworkInput } from './network-input.js';
import { type Judge, MOST_LOSS, makeJudge } from './states.js';
import { varianceShares } from './variance-shares.js';

/** Later marking minus first marking; board and machine together: the marks do not tell which one moved. */
export interface FreshComparison {
  /** Index of the later placement. */
  readonly placement: number;
  readonly squareness: Quantity;
  readonly scale: { readonly x: Quantity; readonly y: Quantity; readonly ratio: Quantity };
  readonly lostMotion: { readonly x: Quantity; readonly y: Quantity };
  /** Undetermined where no gantry moves. */
  readonly racking: Quantity;
}

type Unit = keyof typeof WEAK_LIMIT;
type Terms = readonly (readonly [term: number, slope: number])[];

/**
 * Compares every later placement with the first, each with a machine of its own and every picture bent as it
 * may be.
 *
 * @param input two placements or more that lie on each other up to about a degree, or up to half a turn.
 * Fails: NO_CONVERGENCE.
 */
export function compareFresh(input: NetworkInput): Outcome<FreshComparison[]> {
  const outcome = adjust({
    ...input,
    beliefs: { ...input.beliefs, camera: 'bent', machinePerPlacement: true },
  });
  if (!outcome.ok) return outcome;
  const adjustment = outcome.value;
  const judge = makeJudge(adjustment);
  return success(
    input.placements.slice(1).map((_, i) => comparePlacement(adjustment, judge, i + 1)),
  );
}

function comparePlacement(
  adjustment: Adjustment,
  judge: Judge,
  placement: number,
): FreshComparison {
  const { machine, machineAt, input } = adjustment.network;
  const v = adjustment.state.values;
  const at = machineAt[placement];
  const change = (unit: Unit, terms: Terms) => changeOf(adjustment, judge, placement, unit, terms);
  // Products of a scale and its change are a thousandth of either.
  const [g, d] = [v[at[COMMON_SCALE]], v[at[SCALE_DIFFERENCE]]];
  const [slopeTerm] = machine.index.yaw;
  const { gantryAxis, linesAtX, linesAtY } = input.layout;
  const places = gantryAxis === 'x' ? linesAtX : linesAtY;
  const [from, to] = [places[0], places[places.length - 1]];
  return {
    placement,
    squareness: change('rad', [[SQUARENESS, 1]]),
    scale: {
      x: change('1', [
        [COMMON_SCALE, 1 + d],
        [SCALE_DIFFERENCE, 1 + g],
      ]),
      y: change('1', [
        [COMMON_SCALE, 1 - d],
        [SCALE_DIFFERENCE, -(1 + g)],
      ]),
      ratio: change('1', [[SCALE_DIFFERENCE, 2 / (1 - d) ** 2]]),
    },
    lostMotion: {
      x: change('mm', [[LOST_MOTION_X, 1]]),
      y: change('mm', [[LOST_MOTION_Y, 1]]),
    },
    racking:
      slopeTerm === undefined
        ? { state: 'undetermined', reason: 'the table moves, not a gantry', add: [] }
        : change('rad/m', [
            [
              slopeTerm,
              (1000 * (machine.shape('yaw', 0, to) - machine.shape('yaw', 0, from))) / (to - from),
            ],
          ]),
  };
}

function changeOf(
  adjustment: Adjustment,
  judge: Judge,
  placement: number,
  unit: Unit,
  terms: Terms,
): Quantity {
  const { network, state } = adjustment;
  const later = network.machineAt[placement];
  const gradient = new Float64Array(network.table.size);
  let value = 0;
  for (const [term, slope] of terms) {
    gradient[term] -= slope;
    gradient[later[term]] += slope;
    value += slope * (state.values[later[term]] - state.values[term]);
  }
  const { u, uWithoutMachinePriors } = judge.reach(gradient, [], WEAK_LIMIT[unit]);
  if (u > WEAK_LIMIT[unit] || uWithoutMachinePriors > MOST_LOSS * u) {
    return {
      state: 'undetermined',
      reason: 'the marks of both placements do not fix what changed between them',
      add: [
        'mark the second grid beside the first without turning the board, as large as the first, each line in two halves',
      ],
    };
  }
  return {
    value,
    unit,
    u,
    k: COVERAGE_FACTOR,
    U: COVERAGE_FACTOR * u,
    state: 'measured',
    share: varianceShares(adjustment, gradient),
  };
}
