/** Photo files → grey pictures in the sensor frame, and pictures for people. */

export {
  type CompositeOptions,
  compositeSvg,
  DISPLAY_WIDTH_PX,
  type DisplayFrame,
  displayFrame,
} from './composite-svg.js';
export { type Exif, focalLengthPx, type Orientation, uprightRotation } from './exif.js';
export { loadSharp } from './load-sharp.js';
export { type Exposure, isClippedBright, measureExposure } from './measure-exposure.js';
export { pixelCount } from './open-picture.js';
export type { PictureFormat } from './picture-format.js';
export { boxOf, type PictureBox, placeOf, rankPlaces } from './picture-place.js';
export { readLimited } from './read-limited.js';
export { type Photo, readPhoto } from './read-photo.js';
export { shrink } from './shrink.js';
