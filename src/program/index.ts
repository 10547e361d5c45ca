/** The commanded side: RS-274/NGC text → strokes, the grid they form, the segments that are measured. */

export type { Marking } from './collect-strokes.js';
export {
  type BoardSegment,
  type CutBoard,
  type CutStrokesOptions,
  cutStrokes,
} from './cut-strokes.js';
export { decodeProgramText } from './decode-program-text.js';
export { describeGrid, type Grid, type GridLine } from './describe-grid.js';
export { latticeProgram } from './lattice-program.js';
export { lookAlikeRotations, type QuarterTurn } from './look-alike-rotations.js';
export {
  type AxisRange,
  type CommandedProgram,
  type Envelope,
  type ReadProgramOptions,
  readCommands,
  readProgram,
} from './read-program.js';
