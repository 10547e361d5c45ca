/** How a photo looks at the board, from its homography alone. */

import { poseFromHomography, USUAL_FOCAL } from './start-poses.js';
import { type View, viewOfPose } from './view-of.js';

/**
 * The view of a plain camera whose principal point lies in the middle of the picture. A principal
 * point that is off by 30 px of a focal length of 3000 px shifts the tilt by 0.6°.
 *
 * @param homography 3×3, row-major, commanded mm → px without distortion.
 * @param focalPx a usual phone's main lens where it is not known.
 * @returns undefined for a homography that no camera above the board can see.
 */
export function estimateView(
  homography: Float64Array,
  { widthPx, heightPx }: { readonly widthPx: number; readonly heightPx: number },
  focalPx = USUAL_FOCAL * Math.max(widthPx, heightPx),
): View | undefined {
  const start = poseFromHomography(homography, focalPx, (widthPx - 1) / 2, (heightPx - 1) / 2);
  return start === undefined ? undefined : viewOfPose(start.pose);
}
