/** First placements of a program's grid in a picture, from the two pencils of lines seen in it. */

import type { Pencil, PencilPair } from './find-pencils.js';
import type { ImageMap } from './image-map.js';
import { matchPositions, type RowMatch } from './match-positions.js';
import type { ProgramGrid } from './program-grid.js';

export interface PictureFrame {
  readonly centrePx: readonly [number, number];
  readonly radiusPx: number;
}

/** Rectified coordinates reach this far to either side; half diagonals. */
const REACH = 3;
/** Line positions differ by less than this share of the span: the row reads the same backwards. */
const SYMMETRY = 0.01;

/** Places this much bolder than others, and this share of them, make bold lines worth a look. */
const BOLD = 1.5;
const BOLD_SHARE = 0.15;

/** True where some lines are much bolder than others: finer lines may lie between the grid's own. */
export function hasBoldLines(pair: PencilPair): boolean {
  return pair.boldness.every(
    (all) => all.reduce((n, value) => n + (value > BOLD ? 1 : 0), 0) > BOLD_SHARE * all.length,
  );
}

/**
 * @param bold lines count by their boldness, so that finer ones between them matter less.
 * @returns maps into the pixels of the frame, unmirrored, best rows first; every combination of the
 * best row matches of both families, either family taken as the lines along Y.
 */
export function proposePlacements(
  pair: PencilPair,
  grid: ProgramGrid,
  frame: PictureFrame,
  bold = false,
): { map: ImageMap; rowScore: number }[] {
  const horizon = vanishingLine(pair.first, pair.second);
  const pencils = [pair.first, pair.second];
  const profiles = pencils.map((pencil, f) => {
    const places = bold ? weighBold(pair.places[f], pair.boldness[f]) : pair.places[f];
    return profileOf(places, pencil, horizon, pair.kappa, frame.radiusPx);
  });
  const axes = [grid.xs, grid.ys];
  const matches = profiles.map((profile) =>
    axes.map((positions) => matchBothWays(profile, positions, grid.freeShare)),
  );
  const placements: { map: ImageMap; rowScore: number }[] = [];
  // Of two placements that differ by half a turn of a symmetric program one is enough here.
  const isSymmetric = axes.every(readsBackwards);
  for (const swapped of [false, true]) {
    const rowX = matches[swapped ? 1 : 0][0];
    const rowY = matches[swapped ? 0 : 1][1];
    for (const x of rowX) {
      if (isSymmetric && x.scale < 0) continue;
      for (const y of rowY) {
        const map = mapOf(pencils, horizon, pair.kappa, frame, swapped, x, y);
        if (map === undefined || !isUnmirrored(map, grid)) continue;
        placements.push({
          map,
          rowScore: x.score / grid.xs.length + y.score / grid.ys.length,
        });
      }
    }
  }
  return placements.sort((a, b) => b.rowScore - a.rowScore);
}

/** True where the map keeps the board in front of the camera and does not mirror it. */
export function isUnmirrored(
  map: ImageMap,
  grid: { readonly xs: ArrayLike<number>; readonly ys: ArrayLike<number> },
): boolean {
  const h = map.homography;
  for (const x of [grid.xs[0], grid.xs[grid.xs.length - 1]]) {
    for (const y of [grid.ys[0], grid.ys[grid.ys.length - 1]]) {
      if (!((h[6] * x + h[7] * y + h[8]) * h[8] > 0)) return false;
    }
  }
  const det =
    h[0] * (h[4] * h[8] - h[5] * h[7]) -
    h[1] * (h[3] * h[8] - h[5] * h[6]) +
    h[2] * (h[3] * h[7] - h[4] * h[6]);
  // v counts downwards: an unmirrored board has a negative Jacobian.
  return det * h[8] < 0;
}

/** The line on which both pencils vanish: w = 1 + h·p. */
export function vanishingLine(a: Pencil, b: Pencil): readonly [number, number] {
  const [ax, ay] = [Math.cos(a.theta), Math.sin(a.theta)];
  const [bx, by] = [Math.cos(b.theta), Math.sin(b.theta)];
  const det = ax * by - ay * bx;
  return [(-a.w * by + b.w * ay) / det, (-b.w * ax + a.w * bx) / det];
}

function weighBold(places: Float64Array, boldness: Float64Array): Float64Array {
  return places.map((value, i) => (i % 3 === 2 ? value * boldness[(i - 2) / 3] : value));
}

/** Strength of a family's lines over the rectified coordinate across them, in bins of a pixel. */
export function profileOf(
  places: Float64Array,
  pencil: Pencil,
  horizon: readonly [number, number],
  kappa: number,
  perUnit: number,
): Float64Array {
  const profile = new Float64Array(Math.ceil(2 * REACH * perUnit) + 2);
  const nx = -Math.sin(pencil.theta);
  const ny = Math.cos(pencil.theta);
  for (let i = 0; i < places.length; i += 3) {
    const swell = 1 + kappa * (places[i] ** 2 + places[i + 1] ** 2);
    const x = places[i] * swell;
    const y = places[i + 1] * swell;
    const down = 1 + horizon[0] * x + horizon[1] * y;
    if (down < 0.12) continue;
    const at = ((nx * x + ny * y) / down + REACH) * perUnit;
    if (at < 0 || at >= profile.length - 1) continue;
    const b = Math.floor(at);
    profile[b] += places[i + 2] * (1 - at + b);
    profile[b + 1] += places[i + 2] * (at - b);
  }
  return profile;
}

/** True where the row of positions reads the same backwards. */
function readsBackwards(positions: Float64Array): boolean {
  const n = positions.length;
  const total = positions[0] + positions[n - 1];
  const span = positions[n - 1] - positions[0];
  return positions.every((p, k) => Math.abs(p + positions[n - 1 - k] - total) < SYMMETRY * span);
}

/** Matches with negative scale belong to the row read backwards. */
function matchBothWays(
  profile: Float64Array,
  positions: Float64Array,
  freeShare: number,
): RowMatch[] {
  const forward = matchPositions(profile, positions, freeShare);
  const n = positions.length;
  const total = positions[0] + positions[n - 1];
  const turned = readsBackwards(positions)
    ? forward.map((m) => ({ ...m, scale: -m.scale, offset: m.offset + m.scale * total }))
    : matchPositions(profile, Float64Array.from(positions, (p) => -p).reverse(), freeShare).map(
        (m) => ({
          ...m,
          scale: -m.scale,
        }),
      );
  return [...forward, ...turned];
}

/** The map that puts a row of positions on each pencil. */
export function mapOf(
  pencils: readonly Pencil[],
  horizon: readonly [number, number],
  kappa: number,
  frame: PictureFrame,
  swapped: boolean,
  x: RowMatch,
  y: RowMatch,
): ImageMap | undefined {
  const normals = pencils.map((p) => [-Math.sin(p.theta), Math.cos(p.theta), 0]);
  const inverse = invert([...normals[0], ...normals[1], horizon[0], horizon[1], 1]);
  if (inverse === undefined) return undefined;
  const r = frame.radiusPx;
  const alongX = [x.scale / r, 0, x.offset / r - REACH];
  const alongY = [0, y.scale / r, y.offset / r - REACH];
  const affine = [...(swapped ? alongY : alongX), ...(swapped ? alongX : alongY), 0, 0, 1];
  const h = multiply(inverse, affine);
  const [cu, cv] = frame.centrePx;
  const homography = multiply([r, 0, cu, 0, r, cv, 0, 0, 1], h);
  const bottom = homography[8];
  if (bottom === 0) return undefined;
  return {
    homography: Float64Array.from(homography, (value) => value / bottom),
    centrePx: frame.centrePx,
    radiusPx: r,
    // Series inverse of p (1 + kappa r²).
    k1: -kappa,
    k2: 3 * kappa * kappa,
  };
}

function multiply(a: readonly number[], b: readonly number[]): number[] {
  return a.map((_, i) => {
    const r = 3 * Math.floor(i / 3);
    const c = i % 3;
    return a[r] * b[c] + a[r + 1] * b[c + 3] + a[r + 2] * b[c + 6];
  });
}

function invert(m: readonly number[]): number[] | undefined {
  const [a, b, c, d, e, f, g, h, i] = m;
  const det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
  if (Math.abs(det) < 1e-9) return undefined;
  return [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
    d * h - e * g,
    b * g - a * h,
    a * e - b * d,
  ].map((value) => value / det);
}
