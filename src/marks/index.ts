/** Photo → the grid in it → where every segment of its marks is seen. */

export {
  type BoardTexture,
  boardTexture,
  type CellView,
  viewOfPlacement,
} from './board-texture.js';
export { type FindLatticeOptions, findLattice } from './find-lattice.js';
export { findLatticePair, type LatticePair, type NamedMarks } from './find-lattice-pair.js';
export { findMissing, type MissingMarks } from './find-missing.js';
export type { LatticeFit, RivalPlacement } from './finish-placement.js';
export { type GridCoverage, gridCoverage } from './grid-coverage.js';
export { commandedFromImage, type ImageMap, imageFromCommanded } from './image-map.js';
export { matchTextures, type TextureMatch } from './match-textures.js';
export {
  type MeasuredFamily,
  type MeasuredMarks,
  measureSegments,
  type SegmentObservation,
} from './measure-segments.js';
export { crossingsAt } from './move-cells.js';
export type { PlacementBetween } from './placement-between.js';
export { sampleSegments } from './sample-segments.js';
export type { StatedCrossing } from './stated-crossing.js';
export { joinTextures } from './texture-raster.js';
