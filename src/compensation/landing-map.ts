/** Where a command lands, and the command that lands on a place: the machine's map and its inverse. */

import {
  COMMON_SCALE,
  machineModel,
  SCALE_DIFFERENCE,
  type ShapeKind,
  SQUARENESS,
} from '../machine/index.js';
import { interpolate } from '../numerics/index.js';
import type { LandingTerms } from './choose-terms.js';

export type Point = readonly [x: number, y: number];

/** In the commanded coordinates of the grid's program, mm. */
export interface LandingMap {
  /** Where the middle of both approaches lands; the program's zero stays where it is. */
  land(command: Point): [number, number];
  /** The command that lands on a place. */
  commandFor(place: Point): [number, number];
  /** From the first line of the grid to the last: what varies along a travel is known in between. */
  readonly knownX: readonly [from: number, to: number];
  readonly knownY: readonly [from: number, to: number];
  /** It holds more than scales and squareness, which go on beyond the grid. */
  readonly varies: boolean;
  /** Places where the map has a kink, ascending. */
  readonly kinksX: readonly number[];
  readonly kinksY: readonly number[];
}

/** Steps of the inverse: each leaves a hundredth of the rest at worst, where errors are 10 mm/m. */
const MOST_STEPS = 30;
/** Far below what a program writes, far above rounding; mm. */
const CLOSE_MM = 1e-8;

/**
 * The map of section “machine” of the model without lost motion, held beyond the grid: shapes and
 * tables keep their value at its edge there, scales, squareness and the turn of the gantry go on.
 *
 * @param zeroMm the program's zero in the grid's coordinates.
 */
export function landingMap(terms: LandingTerms, zeroMm: Point): LandingMap {
  const { linesAtX, linesAtY, gantryAxis, squarenessRad, scaleX, scaleY } = terms;
  const model = machineModel({ linesAtX, linesAtY, gantryAxis });
  const p = new Float64Array(model.terms.length);
  p[COMMON_SCALE] = (scaleX + scaleY) / 2;
  const swell = 1 + p[COMMON_SCALE];
  p[SCALE_DIFFERENCE] = (scaleX - scaleY) / 2 / swell;
  p[SQUARENESS] = squarenessRad;
  const { index } = model;
  const project = (kind: ShapeKind, list: readonly number[], curve: LandingTerms['yaw']) => {
    // Orthogonal over the lines: each term by itself gives back what the adjustment had found.
    list.forEach((term, k) => {
      let product = 0;
      let square = 0;
      for (const { at, value } of curve) {
        const shape = model.shape(kind, k, at);
        product += shape * value;
        square += shape ** 2;
      }
      p[term] = square > 0 ? product / square : 0;
    });
  };
  // The model names a straightness by the axis in which it is seen.
  project('straightnessX', index.straightnessX, terms.straightnessY);
  project('straightnessY', index.straightnessY, terms.straightnessX);
  project('yaw', index.yaw, terms.yaw);
  linesAtX.forEach((at, k) => {
    p[index.lineX + k] = interpolate(terms.tableX, at) / swell;
  });
  linesAtY.forEach((at, k) => {
    p[index.lineY + k] = interpolate(terms.tableY, at) / swell;
  });

  const knownX = [linesAtX[0]!, linesAtX.at(-1)!] as const;
  const knownY = [linesAtY[0]!, linesAtY.at(-1)!] as const;
  const land = ([x, y]: Point): [number, number] => {
    const [heldX, heldY] = [clamp(x, knownX), clamp(y, knownY)];
    const [dx, dy] = [x - heldX, y - heldY];
    const psi = gantryAxis === 'none' ? 0 : model.yaw(p, gantryAxis === 'y' ? heldY : heldX);
    const turnedX = gantryAxis === 'x' ? -dy * psi : 0;
    const turnedY = gantryAxis === 'y' ? dx * psi : 0;
    const d = p[SCALE_DIFFERENCE]!;
    return [
      model.across('x', p, heldX, heldY, undefined, 0) +
        swell * (dx * (1 + d) + squarenessRad * dy + turnedX),
      model.across('y', p, heldX, heldY, undefined, 0) + swell * (dy * (1 - d) + turnedY),
    ];
  };
  const atZero = land(zeroMm);
  const shift = [zeroMm[0] - atZero[0], zeroMm[1] - atZero[1]] as const;
  const landShifted = (command: Point): [number, number] => {
    const [x, y] = land(command);
    return [x + shift[0], y + shift[1]];
  };
  return {
    land: landShifted,
    commandFor: (place) => invert(landShifted, place),
    knownX,
    knownY,
    varies: [terms.straightnessX, terms.straightnessY, terms.tableX, terms.tableY, terms.yaw].some(
      ({ length }) => length > 0,
    ),
    // Shapes that are held at the edge of the grid bend there as well.
    kinksX: terms.tableX.length > 0 ? linesAtX : knownX,
    kinksY: terms.tableY.length > 0 ? linesAtY : knownY,
  };
}

/** By fixed-point steps: the map is the identity but for some thousandths. */
function invert(land: (command: Point) => [number, number], place: Point): [number, number] {
  let [x, y] = place;
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const [landedX, landedY] = land([x, y]);
    const [dx, dy] = [place[0] - landedX, place[1] - landedY];
    x += dx;
    y += dy;
    if (Math.abs(dx) + Math.abs(dy) < CLOSE_MM) return [x, y];
  }
  throw new Error(`no command lands on ${place}: the map is far from the identity`);
}

function clamp(value: number, [from, to]: readonly [number, number]): number {
  return Math.min(Math.max(value, from), to);
}
