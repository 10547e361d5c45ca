/** From what was measured to what to do about it: verdicts, proposals, cautions. */

export { boardMayHaveMoved } from './board-age.js';
export { cautions } from './cautions.js';
export { doubtGantryAxis, doubtMachine, doubtName } from './doubt-machine.js';
export {
  ERROR_TABLE_HEADER,
  type ErrorTableOptions,
  type ErrorTableRow,
  errorTable,
  errorTableCsv,
} from './error-table.js';
export { judge } from './judge.js';
export { compareWithLimit, type Judged, listLimited } from './limits.js';
export { type Middle, middlesOf } from './middles-of.js';
export {
  type Proposable,
  propose,
  proposeAgain,
  whyScaleWithheld,
} from './propose.js';
export { PLACEHOLDERS, type RenderedSettings, renderSettings } from './render-settings.js';
export { scaleAt20Felt } from './scale-at-20.js';
