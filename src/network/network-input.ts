/** What goes into the adjustment: photos, cameras, placements, segments, observations, evidence. */

import type { Axis, GantryAxis, MachineLayout, MachineTermKind } from '../machine/index.js';
import type { CAMERA_TERMS } from './camera-model.js';

export type CameraTerm = (typeof CAMERA_TERMS)[number];

/** A physical camera at one focal setting; its photos share the interior orientation. */
export interface NetworkCamera {
  readonly widthPx: number;
  readonly heightPx: number;
  /** From EXIF, px; absent: unknown. */
  readonly focalLengthPx?: number;
}

/** First orientation of a photo: a homography with radial distortion about a centre. */
export interface NetworkPhoto {
  readonly camera: number;
  /** 3×3 row-major, board mm (first placement) → px without distortion. */
  readonly homography: Float64Array;
  readonly centrePx: readonly [number, number];
  readonly radiusPx: number;
  /** Radial distortion in units of `radiusPx`. */
  readonly k1: number;
  readonly k2: number;
}

/** The marks of one program made in one position of the board. */
export interface NetworkPlacement {
  /** Start of the turn (rad) and shift (mm) against the first placement, for which both are zero. */
  readonly rotationRad: number;
  readonly shiftMm: readonly [number, number];
  /**
   * For marks whose places were measured on the board itself: relative standard uncertainty of the
   * instrument's scale, common to all of them.
   */
  readonly instrumentScaleU?: number;
}

/** A stretch of a mark; its edge wander on the board is the same in every photo. */
export interface NetworkSegment {
  readonly placement: number;
  readonly axis: Axis;
  /** Index into the machine layout's lines of that axis, followed by its rungs; undefined: between the lines. */
  readonly line: number | undefined;
  /** Commanded middle, mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Approach of the axis measured across. */
  readonly approach: number;
  /** Marked once more, much later than the rest of its line. */
  readonly isRepeated?: boolean;
  /**
   * For a point, seen as a whole: index of the segment that carries its other coordinate. All that is
   * seen of the point is listed with this segment.
   */
  readonly pair?: number;
}

/**
 * Where a segment's centre line is seen in a photo, across the line; or where a point is seen, along any
 * direction: two of them, at a right angle, for both its coordinates. Or where a segment was measured on the
 * board itself, without a photo: then in mm of the frame of its placement.
 */
export interface LineObservation {
  /** Index into `photos`; as many as there are: no photo. */
  readonly photo: number;
  /** Index into `segments`. */
  readonly segment: number;
  readonly uPx: number;
  readonly vPx: number;
  /** Unit normal of the line in the picture. */
  readonly normalU: number;
  readonly normalV: number;
  readonly sigmaPx: number;
}

/** Distance taped between the marks of two commanded crossings of the first placement. */
export interface TapedDistance {
  readonly kind: 'length';
  readonly what: string;
  readonly fromMm: readonly [number, number];
  readonly toMm: readonly [number, number];
  readonly lengthMm: number;
  /** Of this reading alone. */
  readonly uMm: number;
  /** Relative standard uncertainty of the tape's own scale, shared by all with the same tape; 0: none. */
  readonly tapeScaleU: number;
  /** True length over length read, as temperatures make it; 1 where absent. */
  readonly trueOverRead?: number;
}

/** Two graduations of a rule that lies in a picture. */
export interface RuleInPicture {
  readonly kind: 'rule';
  readonly what: string;
  readonly photo: number;
  /** Sensor pixels of the graduations. */
  readonly fromPx: readonly [number, number];
  readonly toPx: readonly [number, number];
  /** Standard uncertainty of each pixel coordinate. */
  readonly sigmaPx: number;
  readonly lengthMm: number;
  /** Of this length alone, without the pixels. */
  readonly uMm: number;
  /** Height of the graduations over the board. */
  readonly heightMm: number;
  /** Standard uncertainty of that height: all rules may err alike. */
  readonly heightUMm: number;
  /** Relative standard uncertainty of the scale that all rules share; 0: none. */
  readonly ruleScaleU: number;
  readonly trueOverRead?: number;
}

/** Squareness read with a square and an indicator. */
export interface SquareReading {
  readonly kind: 'square';
  readonly what: string;
  readonly squarenessRad: number;
  readonly uRad: number;
}

/** What is taken for true of cameras and grid, where it is not what the tool believes of a phone. */
export interface NetworkBeliefs {
  /**
   * Only these camera terms are adjusted, without priors and the same in all photos of a camera. The
   * others stay: no distortion, square pixels, the distortion centre at the principal point.
   */
  readonly cameraTerms?: readonly CameraTerm[];
  /** The marks lie where they were commanded, but for these terms of the machine. */
  readonly onlyMachineTerms?: readonly MachineTermKind[];
  /** One variance for all observations, as estimated from all of them; none is dropped or weakened. */
  readonly commonVariance?: boolean;
  /**
   * free: nothing is believed of the cameras' shape, and every picture may be smoothly bent; bent: only the
   * latter; believed: what is usual for phones, and no bends. Where absent, free if the board was turned
   * between two placements, else believed.
   */
  readonly camera?: 'free' | 'bent' | 'believed';
  /** Every placement has a machine of its own: what changed between them is the question. */
  readonly machinePerPlacement?: boolean;
}

export type NetworkEvidence = TapedDistance | RuleInPicture | SquareReading;

export interface NetworkInput {
  readonly layout: MachineLayout;
  readonly cameras: readonly NetworkCamera[];
  readonly photos: readonly NetworkPhoto[];
  readonly placements: readonly NetworkPlacement[];
  readonly segments: readonly NetworkSegment[];
  readonly observations: readonly LineObservation[];
  readonly evidence: readonly NetworkEvidence[];
  readonly beliefs?: NetworkBeliefs;
}

/** Whether a mark was measured on the board itself, not in a photo. */
export function isMeasuredOnBoard(
  { photos }: Pick<NetworkInput, 'photos'>,
  { photo }: Pick<LineObservation, 'photo'>,
): boolean {
  return photo >= photos.length;
}

export type { Axis, GantryAxis, MachineLayout };
