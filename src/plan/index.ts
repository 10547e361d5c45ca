/** Layouts of grids: choices → marks → the program that makes them. */

export type { GridPlan, PlanLayout, PlannedHole, PlannedMark } from './grid-plan.js';
export { layOutGrid } from './lay-out-grid.js';
export {
  type InsertChoices,
  PLAN_DEFAULTS,
  type PlanChoices,
  type PlanMarking,
  type PlanUnits,
} from './plan-choices.js';
export { writeFlatProgram } from './write-flat-program.js';
export { writeParametricProgram } from './write-parametric-program.js';
