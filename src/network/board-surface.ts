/**
 * The board's own shape: a bow along each axis and a twist. A camera that looks straight down sees heights
 * as displacements outward; taken for flat, half a millimetre of twist puts squareness off by tenths of a
 * millimetre per metre without a sign of it in the fit.
 */

import type { MachineLayout } from './network-input.js';

/** Height (mm) at the ends of the grid's X, at the ends of its Y, and at its +X +Y corner by twist. */
export const BOARD_TERMS = ['bowX', 'bowY', 'twist'] as const;
export const BOARD_SIZE = BOARD_TERMS.length;

/** Boards of wood on a machine bed depart from a plane by some tenths. Common practice, no source; mm. */
export const BOARD_PRIOR_MM = 0.5;

export interface SurfacePoint {
  /** Height over the mean plane, mm, and its slopes along X and Y. */
  z: number;
  slopeX: number;
  slopeY: number;
}

export interface BoardSurface {
  /** Height at a board position for the given terms; fills `by` with the height's derivatives by them. */
  at(terms: ArrayLike<number>, xMm: number, yMm: number, by?: Float64Array): SurfacePoint;
}

export function boardSurface(layout: MachineLayout): BoardSurface {
  const [x, y] = [layout.linesAtX, layout.linesAtY].map((lines) => {
    const from = lines[0];
    const to = lines[lines.length - 1];
    return { middle: (from + to) / 2, half: (to - from) / 2 };
  });
  return {
    at(terms, xMm, yMm, by) {
      const p = (xMm - x.middle) / x.half;
      const q = (yMm - y.middle) / y.half;
      // Less its mean over the grid: the distance of the camera takes that up.
      const bowX = p * p - 1 / 3;
      const bowY = q * q - 1 / 3;
      by?.set([bowX, bowY, p * q]);
      return {
        z: terms[0] * bowX + terms[1] * bowY + terms[2] * p * q,
        slopeX: (2 * terms[0] * p + terms[2] * q) / x.half,
        slopeY: (2 * terms[1] * q + terms[2] * p) / y.half,
      };
    },
  };
}
