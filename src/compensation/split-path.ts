/** A path of the tool → the places where straight pieces join that stay within a tolerance of it. */

import type { ArcShape } from '../program/index.js';
import type { LandingMap, Point } from './landing-map.js';

/** X and Y as they shall land, or as they are commanded, in the grid's coordinates; Z as words name it; mm. */
export type Place = readonly [x: number, y: number, z: number];

/** Between samples of a map that varies smoothly nothing bends by more than some tenths of a µm, mm. */
const SAMPLE_MM = 4;

/** Share of the tolerance that a chord between two samples of an arc may use. */
const SAMPLE_SHARE = 1 / 16;

/** Share left for joining samples: the rest is for rounding of numbers and for kinks between samples. */
const JOIN_SHARE = 0.85;

/** Places along a straight line from one place to another, without its start. */
export function sampleLine(from: Place, to: Place, map: LandingMap): Place[] {
  if (!map.varies) return [to];
  const count = Math.max(1, Math.ceil(Math.hypot(to[0] - from[0], to[1] - from[1]) / SAMPLE_MM));
  const shares = Array.from({ length: count }, (_, i) => (i + 1) / count);
  const start = map.commandFor([from[0], from[1]]);
  const end = map.commandFor([to[0], to[1]]);
  for (const [axis, kinks] of [map.kinksX, map.kinksY].entries()) {
    const travel = end[axis]! - start[axis]!;
    if (travel === 0) continue;
    for (const kink of kinks) {
      const share = (kink - start[axis]!) / travel;
      if (share > 0 && share < 1) shares.push(share);
    }
  }
  shares.sort((one, other) => one - other);
  return shares.map((share) => (share === 1 ? to : between(from, to, share)));
}

/** Places along an arc or a helix, without its start. */
export function sampleArc(from: Place, to: Place, shape: ArcShape, toleranceMm: number): Place[] {
  const { axes, centreMm, sweepRad } = shape;
  const [a, b] = axes;
  const radii = [from, to].map((end) => Math.hypot(end[a]! - centreMm[0], end[b]! - centreMm[1]));
  const radius = Math.max(...radii);
  const step = Math.min(
    2 * Math.acos(Math.max(0, 1 - (SAMPLE_SHARE * toleranceMm) / radius)),
    SAMPLE_MM / radius,
  );
  const count = Math.max(2, Math.ceil(Math.abs(sweepRad) / step));
  const start = Math.atan2(from[b]! - centreMm[1], from[a]! - centreMm[0]);
  return Array.from({ length: count }, (_, i) => {
    if (i === count - 1) return to;
    const share = (i + 1) / count;
    const angle = start + share * sweepRad;
    // Programs round: the radius goes from that of the start to that of the end.
    const length = radii[0]! + share * (radii[1]! - radii[0]!);
    const place: [number, number, number] = [...between(from, to, share)];
    place[a] = centreMm[0] + length * Math.cos(angle);
    place[b] = centreMm[1] + length * Math.sin(angle);
    return place;
  });
}

function between(from: Place, to: Place, share: number): Place {
  return [0, 1, 2].map((k) => from[k]! + share * (to[k]! - from[k]!)) as unknown as Place;
}

/** Commands that land on the places. */
export function commandsFor(places: readonly Place[], map: LandingMap): Place[] {
  return places.map(([x, y, z]) => [...map.commandFor([x, y]), z] as const);
}

/**
 * The fewest places worth stopping at, found by halving where it bends most.
 *
 * @param path from its start on.
 * @returns indices of the ends of the straight pieces, ascending; the last place is always one.
 * Source: Ramer, An iterative procedure for the polygonal approximation of plane curves (1972).
 */
export function joinStraight(path: readonly Place[], toleranceMm: number): number[] {
  const kept: number[] = [];
  const open: [number, number][] = [[0, path.length - 1]];
  while (open.length > 0) {
    const [first, last] = open.pop()!;
    let worst = first;
    let largest = JOIN_SHARE * toleranceMm;
    for (let i = first + 1; i < last; i += 1) {
      const distance = distanceFrom(path[i]!, path[first]!, path[last]!);
      if (distance > largest) [largest, worst] = [distance, i];
    }
    if (worst === first) kept.push(last);
    // The later half waits below the earlier one, so that ends come out in order.
    else open.push([worst, last], [first, worst]);
  }
  return kept;
}

/** How far a place lies from a straight piece. */
export function distanceFrom(place: Place, from: Place, to: Place): number {
  const along = [to[0] - from[0], to[1] - from[1], to[2] - from[2]] as const;
  const away = [place[0] - from[0], place[1] - from[1], place[2] - from[2]] as const;
  const square = along[0] ** 2 + along[1] ** 2 + along[2] ** 2;
  const product = along[0] * away[0] + along[1] * away[1] + along[2] * away[2];
  const share = square === 0 ? 0 : Math.min(1, Math.max(0, product / square));
  return Math.hypot(
    away[0] - share * along[0],
    away[1] - share * along[1],
    away[2] - share * along[2],
  );
}

export interface KeptArc {
  readonly centre: Point;
}

/** Sums of offsets round; far below what a program writes. */
const SAME_PLACE_MM = 1e-7;

/** How much of an arc may be gained or lost at its ends before it is another arc, rad. */
const SAME_SWEEP_RAD = 0.3;

/**
 * An arc in X and Y through the commands, where one stays within the tolerance of them all; its centre is
 * as far from its start as from its end.
 *
 * @param path of commands, from the start on; the ends as they will be written.
 * @param centre command for the centre of the arc.
 */
export function fitArc(
  path: readonly Place[],
  centre: Point,
  sweepRad: number,
  isClosed: boolean,
  toleranceMm: number,
): KeptArc | undefined {
  const [from, to] = [path[0]!, path.at(-1)!];
  const chord = [to[0] - from[0], to[1] - from[1]] as const;
  const length = Math.hypot(...chord);
  if (isClosed !== length < SAME_PLACE_MM) return undefined;
  let fitted = centre;
  if (!isClosed) {
    // Onto the line that is as far from both ends.
    const middle = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2] as const;
    const excess =
      ((centre[0] - middle[0]) * chord[0] + (centre[1] - middle[1]) * chord[1]) / length ** 2;
    fitted = [centre[0] - excess * chord[0], centre[1] - excess * chord[1]];
    const turn =
      Math.atan2(to[1] - fitted[1], to[0] - fitted[0]) -
      Math.atan2(from[1] - fitted[1], from[0] - fitted[0]);
    const turns = Math.round((sweepRad - turn) / (2 * Math.PI));
    if (Math.abs(turn + 2 * Math.PI * turns - sweepRad) > SAME_SWEEP_RAD) return undefined;
    // Rounded ends must not make of a bit of an arc a whole turn more.
    const isBackward = Math.sign(turn + 2 * Math.PI * turns) !== Math.sign(sweepRad);
    if (isBackward || Math.abs(turn + 2 * Math.PI * turns) < 1e-4) return undefined;
    const before = Math.ceil(Math.abs(sweepRad) / (2 * Math.PI));
    if (before !== Math.ceil(Math.abs(turn + 2 * Math.PI * turns) / (2 * Math.PI)))
      return undefined;
  }
  const radius = Math.hypot(from[0] - fitted[0], from[1] - fitted[1]);
  const isNear = path.every(
    ([x, y]) =>
      Math.abs(Math.hypot(x - fitted[0], y - fitted[1]) - radius) <= JOIN_SHARE * toleranceMm,
  );
  return isNear ? { centre: fitted } : undefined;
}
