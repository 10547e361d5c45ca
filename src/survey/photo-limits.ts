/**
 * Limits of a photo's figures, from what they do to its uncertainty.
 *
 * A mark on a board wanders about its commanded line by some hundredths of a millimetre, in every photo
 * alike; averaged over a stretch between two crossings {@link WANDER_MM} were left on the sample boards. What
 * the pixels add is independent of it: u² = wander² + pixels². Up to half the wander u grows by 12 %,
 * and nobody need care. Where pixels add as much as the wander, u grows by √2: such a photo is
 * worth half of a good one, and that is where `poor` begins. A photo is `unusable` only where it
 * could not be measured.
 *
 * How the pixels' part grows was measured on a sample photo of 0.25 mm per pixel that was blurred, darkened,
 * shrunk (with noise of 1.5 grey values and JPEG at quality 84 anew) against its own undamaged measurement.
 */

import type { PhotoState } from '../../shared/schemas/photo-verdict.js';

/** What a burnt line of 0.7 mm leaves per stretch of 35 mm; wider or rougher marks leave more. */
const WANDER_MM = 0.011;
/** Pixels' part, in wanders, from which on a photo is no longer good, and is poor. */
const HALF = 0.5;
const EQUAL = 1;

/**
 * Blur of 2, 3, 4, 6 px: edges of 4.3, 5.4, 6.4, 8.3 px and 0.017, 0.029, 0.046, 0.085 px from the pixels,
 * against 0.005 px at 3.3 px undamaged: a straight line over the first part.
 */
const SHARP_EDGE_PX = 3.35;
const PX_PER_EDGE_PX = 0.015;

/**
 * Darkened to depths of 32, 16, 7.7, 3.9 grey values: 0.0088, 0.018, 0.040, 0.077 px from the pixels,
 * as noise over slope has it: inverse to the depth.
 */
const PX_TIMES_DEPTH = 0.29;

/** Shrunk to 0.5, 0.7, 1.0 mm per px: 0.34, 0.69, 1.1 of the wander from the pixels. */
const COARSE_MM_PER_PX = { good: 0.6, usable: 1 } as const;

/**
 * Of n marks over a span L, a line's direction is known to 1/(L √n): a share a of the grid that is cut off
 * or missing at its rim costs (1 − a)^−1.5. That is 1.125 at a = 7.5 % and √2 at 20.6 %.
 */
const LEAST_SHARE = { good: 0.925, usable: 0.794 } as const;

/**
 * Tilt turns the doubt about the lens's centre into squareness: u = tilt × u(centre) / f, 0.18 mm/m per
 * degree for one photo. 1 to 2° are asked for, and the estimate is in doubt by 0.6°. Beyond 5° a photo
 * is no help for squareness (the advice on results says the same); it still is for lost motion. An engineering choice.
 */
const TILT_RAD = { good: (3 * Math.PI) / 180, usable: (5 * Math.PI) / 180 } as const;

/**
 * Clipped places between the marks: marks next to them are measured as well as ever (6 % clipped cost
 * nothing, with 64 % a tenth of the marks was lost), but there is no reserve. An engineering choice.
 */
const CLIPPED_SHARE = 0.1;

/** Widest edge that is still good, and still usable; px. */
export function edgeLimitsPx(mmPerPx: number): { readonly good: number; readonly usable: number } {
  const at = (share: number) => SHARP_EDGE_PX + (share * WANDER_MM) / (mmPerPx * PX_PER_EDGE_PX);
  return { good: at(HALF), usable: at(EQUAL) };
}

/** Least depth of the marks below their background; grey values. */
export function depthLimits(mmPerPx: number): { readonly good: number; readonly usable: number } {
  const at = (share: number) => (PX_TIMES_DEPTH * mmPerPx) / (share * WANDER_MM);
  return { good: at(HALF), usable: at(EQUAL) };
}

type Limits = { readonly good: number; readonly usable: number };
type Grade = Exclude<PhotoState, 'unusable'>;

export function gradeEdge(edgePx: number, mmPerPx: number): Grade {
  return gradeMost(edgePx, edgeLimitsPx(mmPerPx));
}

export function gradeDepth(depth: number, mmPerPx: number): Grade {
  return gradeLeast(depth, depthLimits(mmPerPx));
}

export function gradeShare(share: number): Grade {
  return gradeLeast(share, LEAST_SHARE);
}

export function gradeScale(mmPerPx: number): Grade {
  return gradeMost(mmPerPx, COARSE_MM_PER_PX);
}

export function gradeTilt(tiltRad: number): Grade {
  return gradeMost(tiltRad, TILT_RAD);
}

/** Never poor by itself: marks that it costs are counted where they are missing. */
export function gradeClipped(share: number): Grade {
  return share <= CLIPPED_SHARE ? 'good' : 'usable';
}

function gradeMost(value: number, { good, usable }: Limits): Grade {
  return value <= good ? 'good' : value <= usable ? 'usable' : 'poor';
}

function gradeLeast(value: number, { good, usable }: Limits): Grade {
  return value >= good ? 'good' : value >= usable ? 'usable' : 'poor';
}
