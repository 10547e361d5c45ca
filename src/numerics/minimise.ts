/**
 * Gauss-Newton with Levenberg-Marquardt damping, the damping added to the scaled diagonal of the normal
 * equations.
 *
 * Sources: Levenberg, A method for the solution of certain non-linear problems in least squares (1944);
 * Marquardt, An algorithm for least-squares estimation of nonlinear parameters (1963).
 */

import { type NormalEquations, solveNormal } from './normal-equations.js';

/** A sum of weighted squares, as a function of a state of any kind. */
export interface LeastSquares<State, Linearised> {
  /** Residuals and derivatives; may write into one that is no longer needed. */
  linearise(state: State, spare?: Linearised): Linearised;
  /** Sum of weighted squares; not finite where the state makes no sense. */
  cost(linearised: Linearised, state: State): number;
  /** Normal equations of the step, symmetrised. */
  normal(linearised: Linearised, state: State): NormalEquations;
  stepped(state: State, step: Float64Array): State;
}

export interface Minimum<State, Linearised> {
  readonly state: State;
  readonly linearised: Linearised;
  readonly steps: number;
  readonly cost: number;
  /** Fall of the sum of weighted squares at the last step. */
  readonly lastFall: number;
  /**
   * `settled`: the last step gained less than the tolerance; `rounding`: no step leads further down;
   * `unfinished`: the steps were used up.
   */
  readonly end: 'settled' | 'rounding' | 'unfinished';
}

const FIRST_DAMPING = 1e-8;
const LEAST_DAMPING = 1e-10;
/** Damping after a step that led upward, at least. */
const STEADYING = 1e-6;
/** Twelve tenfold increases from there: a step a million times shorter than the gradient's. */
const MOST_ATTEMPTS = 12;

/** @param tolerance fall of the sum of weighted squares at which it stands. */
export function minimise<State, Linearised>(
  problem: LeastSquares<State, Linearised>,
  start: State,
  options: { readonly tolerance: number; readonly mostSteps: number; readonly spare?: Linearised },
): Minimum<State, Linearised> {
  let state = start;
  let linearised = problem.linearise(state, options.spare);
  let cost = problem.cost(linearised, state);
  let damping = FIRST_DAMPING;
  let spare: Linearised | undefined;
  let lastFall = Number.POSITIVE_INFINITY;
  for (let steps = 1; steps <= options.mostSteps; steps++) {
    const system = problem.normal(linearised, state);
    let improved = false;
    for (let attempt = 0; attempt < MOST_ATTEMPTS && !improved; attempt++) {
      const step = solveNormal(system.matrix, system.rightSide, damping);
      if (step?.every(Number.isFinite)) {
        const trial = problem.stepped(state, step);
        const there = problem.linearise(trial, spare);
        const costThere = problem.cost(there, trial);
        // Number.isFinite: a step to a state without sense gives no cost at all.
        if (Number.isFinite(costThere) && costThere <= cost * (1 + 1e-12)) {
          lastFall = cost - costThere;
          spare = linearised;
          linearised = there;
          state = trial;
          cost = costThere;
          damping = Math.max(LEAST_DAMPING, damping / 10);
          improved = true;
        } else {
          spare = there;
        }
      }
      if (!improved) damping = Math.max(STEADYING, damping * 10);
    }
    if (!improved) return { state, linearised, steps, cost, lastFall, end: 'rounding' };
    if (lastFall <= options.tolerance) {
      return { state, linearised, steps, cost, lastFall, end: 'settled' };
    }
  }
  return { state, linearised, steps: options.mostSteps, cost, lastFall, end: 'unfinished' };
}
