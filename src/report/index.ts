/** Values → text, drawings, tables and pages. Pure: no files, no streams. */

export type {
  OverlayContent,
  OverlayCorner,
  OverlayLine,
  OverlayMark,
} from './overlay-content.js';
