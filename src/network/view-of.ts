/** How a photo looks at the board. */

import type { Adjustment } from './adjust.js';
import type { Pose } from './camera-model.js';
import { cameraOf } from './image-position.js';

export interface View {
  /** Angle between the camera's axis and the board's normal, rad. */
  readonly tiltRad: number;
  /** Turn of the sensor's rows against the board's X axis, counter-clockwise seen from above, rad. */
  readonly rollRad: number;
  /** Nearest quarter turn of the roll, 0..3. */
  readonly quarter: number;
  /** Board millimetres per pixel where the axis of the camera meets the board. */
  readonly mmPerPx: number;
}

export function viewOf(adjustment: Adjustment, photo: number): View {
  return viewOfPose(cameraOf(adjustment, photo).pose);
}

export function viewOfPose({ rotation: r, rho }: Pose): View {
  // Rows of R are the camera's axes in the board frame; its X axis runs along the sensor's rows.
  const rollRad = Math.atan2(r[1], r[0]);
  const tiltRad = Math.acos(Math.min(1, Math.max(-1, -r[8])));
  const quarter = ((Math.round(rollRad / (Math.PI / 2)) % 4) + 4) % 4;
  return { tiltRad, rollRad, quarter, mmPerPx: rho };
}
