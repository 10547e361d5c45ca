/** The commanded side: RS-274/NGC text → strokes, the grid they form, the segments that are measured. */

export { COMPENSATED_MARK, isMarkedCompensated } from './compensated-mark.js';
export {
  type BoardSegment,
  type CutBoard,
  type CutStrokesOptions,
  cutStrokes,
} from './cut-strokes.js';
export {
  decodeProgramText,
  encodeProgramText,
  type ProgramEncoding,
  programEncoding,
} from './decode-program-text.js';
export {
  approachAcross,
  describeGrid,
  FEWEST_MEASURED_LINES,
  type Grid,
  type GridLine,
  SAME_LINE_MM,
} from './describe-grid.js';
export { DRILLING_G, isKnownLetter, MOTION_G, PROBING_G } from './known-codes.js';
export { latticeProgram } from './lattice-program.js';
export { type LocatedText, type LocatedWord, locateWords } from './locate-words.js';
export { lookAlikeRotations, type QuarterTurn } from './look-alike-rotations.js';
export type { Marking } from './marked-part.js';
export type { StraightMark } from './marks-beside.js';
export { type AxisRange, type Envelope, measureEnvelope } from './measure-envelope.js';
export { type ArcShape, areRelated, type Motion, type Place } from './motion.js';
export { Notes } from './notes.js';
export {
  type CommandedProgram,
  type ReadProgramOptions,
  readCommands,
  readProgram,
  type Stop,
} from './read-program.js';
export { strokeExtent } from './stroke-extent.js';
export { type ProgramTrace, type TracedLine, traceProgram } from './trace-program.js';
