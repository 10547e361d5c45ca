/**
 * A smooth bend of one picture beyond homography and lens model: what a bowed board, an unusual lens or an
 * editor's correction does to all placements of a board alike. Polynomials of the board's position, with
 * coefficients in pixels of u and of v.
 */

import type { Projection } from './camera-model.js';
import type { NetworkInput } from './network-input.js';

/** Polynomials in two variables, of total degree 2 to this; constant and slope are the homography's. */
const WARP_DEGREE = 5;

const DEGREES: readonly (readonly [number, number])[] = Array.from(
  { length: WARP_DEGREE - 1 },
  (_, i) => i + 2,
).flatMap((total) => Array.from({ length: total + 1 }, (_, k) => [total - k, k] as const));

/** Coefficients of a picture: those of u, then those of v. */
export const WARP_SIZE = 2 * DEGREES.length;

/** Which coefficients are of one total degree: what bends a picture bends it less the higher the degree. */
export const WARP_GROUPS: readonly (readonly number[])[] = Array.from(
  { length: WARP_DEGREE - 1 },
  (_, i) => DEGREES.flatMap(([a, b], k) => (a + b === i + 2 ? [k, k + DEGREES.length] : [])),
);

export interface PictureWarp {
  /**
   * Moves the projection of a board position, with its derivatives by that position.
   *
   * @param values coefficients of u and of v, px; `WARP_SIZE` of them.
   * @param basis receives the derivatives of u by its coefficients, and of v by its own: half as many.
   */
  bend(
    values: ArrayLike<number>,
    xMm: number,
    yMm: number,
    projection: Projection,
    basis: Float64Array,
  ): void;
}

/** Products of Legendre polynomials over a square around all that is marked on the board. */
export function pictureWarp({ segments, placements }: NetworkInput): PictureWarp {
  const range = { x: [Infinity, -Infinity], y: [Infinity, -Infinity] };
  for (const { xMm, yMm, placement } of segments) {
    const { rotationRad, shiftMm } = placements[placement];
    const [c, s] = [Math.cos(rotationRad), Math.sin(rotationRad)];
    for (const [key, at] of [
      ['x', c * xMm - s * yMm + shiftMm[0]],
      ['y', s * xMm + c * yMm + shiftMm[1]],
    ] as const) {
      range[key] = [Math.min(range[key][0], at), Math.max(range[key][1], at)];
    }
  }
  const middleX = (range.x[0] + range.x[1]) / 2;
  const middleY = (range.y[0] + range.y[1]) / 2;
  const half = Math.max(range.x[1] - range.x[0], range.y[1] - range.y[0]) / 2;
  const px = legendreRoom();
  const py = legendreRoom();
  return {
    bend(values, xMm, yMm, projection, basis) {
      fillLegendre(px, (xMm - middleX) / half);
      fillLegendre(py, (yMm - middleY) / half);
      const byBoard = projection.byBoard;
      const count = DEGREES.length;
      for (let k = 0; k < count; k++) {
        const [i, j] = DEGREES[k];
        const value = px.value[i] * py.value[j];
        const slopeX = (px.slope[i] * py.value[j]) / half;
        const slopeY = (px.value[i] * py.slope[j]) / half;
        basis[k] = value;
        projection.u += values[k] * value;
        projection.v += values[count + k] * value;
        byBoard[0] += values[k] * slopeX;
        byBoard[1] += values[k] * slopeY;
        byBoard[2] += values[count + k] * slopeX;
        byBoard[3] += values[count + k] * slopeY;
      }
    },
  };
}

interface LegendreValues {
  readonly value: Float64Array;
  readonly slope: Float64Array;
}

function legendreRoom(): LegendreValues {
  return { value: new Float64Array(WARP_DEGREE + 1), slope: new Float64Array(WARP_DEGREE + 1) };
}

/** (k + 1) P_{k+1} = (2 k + 1) t P_k - k P_{k-1}; P'_{k+1} = P'_{k-1} + (2 k + 1) P_k. */
function fillLegendre({ value, slope }: LegendreValues, t: number): void {
  value[0] = 1;
  value[1] = t;
  slope[0] = 0;
  slope[1] = 1;
  for (let k = 1; k < WARP_DEGREE; k++) {
    value[k + 1] = ((2 * k + 1) * t * value[k] - k * value[k - 1]) / (k + 1);
    slope[k + 1] = slope[k - 1] + (2 * k + 1) * value[k];
  }
}
