/** Photo → the grid in it → where every segment of its marks is seen. */

export { type FindLatticeOptions, findLattice } from './find-lattice.js';
export { findLatticePair, type LatticePair, type NamedMarks } from './find-lattice-pair.js';
export { findMissing, type MissingMarks } from './find-missing.js';
export type { LatticeFit, RivalPlacement } from './finish-placement.js';
export { type GridCoverage, gridCoverage } from './grid-coverage.js';
export { commandedFromImage, type ImageMap, imageFromCommanded } from './image-map.js';
export {
  type MeasuredFamily,
  type MeasuredMarks,
  measureSegments,
  type SegmentObservation,
} from './measure-segments.js';
export type { PlacementBetween } from './placement-between.js';
export { sampleSegments } from './sample-segments.js';
export type { StatedCrossing } from './stated-crossing.js';
