/** Layouts of grids: choices → marks → the program that makes them. */

export { type CheckOptions, checkProgram, type ProgramCheck } from './check-program.js';
export { type CheckTextOptions, checkText } from './check-text.js';
export { cutSheet } from './cut-sheet.js';
export type { GridPlan, PlanLayout, PlannedHole, PlannedMark } from './grid-plan.js';
export { layOutGrid } from './lay-out-grid.js';
export {
  type InsertChoices,
  PLAN_DEFAULTS,
  type PlanChoices,
  type PlanMarking,
  type PlanUnits,
} from './plan-choices.js';
export { type PlanFiles, planFiles } from './plan-files.js';
export { planRecord, strokesOfRecord, type WrittenProgram } from './plan-record.js';
export { type PreviewContent, type PreviewHole, previewSvg } from './preview-svg.js';
export { writeFlatProgram, writeHolesProgram } from './write-flat-program.js';
export { writeParametricProgram } from './write-parametric-program.js';
