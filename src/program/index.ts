/** The commanded side: RS-274/NGC text → strokes, the grid they form, the segments that are measured. */

export {
  type BoardSegment,
  type CutBoard,
  type CutStrokesOptions,
  cutStrokes,
} from './cut-strokes.js';
export { decodeProgramText } from './decode-program-text.js';
export {
  approachAcross,
  describeGrid,
  FEWEST_MEASURED_LINES,
  type Grid,
  type GridLine,
  SAME_LINE_MM,
} from './describe-grid.js';
export { latticeProgram } from './lattice-program.js';
export { lookAlikeRotations, type QuarterTurn } from './look-alike-rotations.js';
export type { Marking } from './marked-part.js';
export type { StraightMark } from './marks-beside.js';
export type { AxisRange, Envelope } from './measure-envelope.js';
export {
  type CommandedProgram,
  type ReadProgramOptions,
  readCommands,
  readProgram,
  type Stop,
} from './read-program.js';
export { strokeExtent } from './stroke-extent.js';
