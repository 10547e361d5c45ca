/** What a measurement will reach, before anything is marked or photographed. */

export {
  type ForecastRequest,
  forecast,
  type TapedLength,
  USUAL_CAMERA,
  USUAL_FILL,
  USUAL_PHOTOS,
  USUAL_SIGMA,
  USUAL_TURNED_PHOTOS,
  USUAL_TURNED_SIGMA,
} from './forecast.js';
export { MOST_PHOTOS, type PhotoGroup, type PhotoKind, USUAL_TILT_RAD } from './photo-set.js';
export { LEAST_PLANNED_TURN_DEGREES } from './turn-placement.js';
