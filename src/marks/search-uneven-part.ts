/** A photo of a part of an unevenly spaced grid: which part, from the sequence of the gaps between its lines. */

import { CLEAR_ASPECT, CLEAR_ODDS } from './choose-turn.js';
import { findLocalLattice } from './find-local-lattice.js';
import type { PencilPair } from './find-pencils.js';
import { imageFromCommanded } from './image-map.js';
import { WORST_ASPECT } from './judge-placement.js';
import { type Evidence, weighPlacement } from './lattice-evidence.js';
import { hasLookAlike } from './look-alike-gaps.js';
import { type GapMatch, matchGaps } from './match-gaps.js';
import { aspectOf } from './measure-placement.js';
import type { Sight } from './probe-unit.js';
import type { ProgramGrid } from './program-grid.js';
import { isUnmirrored, mapOf, profileOf, vanishingLine } from './propose-placements.js';
import type { ReducedImage } from './reduce-image.js';
import { isPlain } from './search-part.js';
import { type Candidate, fitPlacement, frameOf } from './search-placement.js';
import { agreesWithStated, type StatedCrossing } from './stated-crossing.js';
import { USUAL_RATES } from './tally.js';

export type UnevenPartSearch =
  | { readonly kind: 'none' }
  | { readonly kind: 'found'; readonly candidate: Candidate; readonly rivals: readonly never[] }
  | { readonly kind: 'ambiguous'; readonly placements: number };

/** Proposals fitted after a quick look at some of their marks, in a window wide enough for a first map. */
const FITTED = 8;
const QUICK_UNITS = 1500;
const QUICK_WINDOW = 0.2;
/** Half-widths of the search across a line, round by round: narrower than the steps from gap to gap. */
const WINDOWS = [0.2, 0.15, 0.12];
/** Placements whose picture's middle lies this close together are one; share of the gap. */
const SAME_PLACE = 0.3;
/** Lines of either family in the picture: fewer bend onto a wrong sequence. */
const FEWEST_LINES = 5;
/** So many stated crossings fix shift and turn. */
const STATED_SETTLE = 2;

export function searchUnevenPart(
  sight: Sight,
  picture: ReducedImage,
  grid: ProgramGrid,
  pairs: readonly PencilPair[],
  stated: readonly StatedCrossing[],
): UnevenPartSearch {
  const fitted = pairs
    .flatMap((pair) => proposeMaps(pair, grid, picture))
    .map((map) => ({
      map,
      quick: weighPlacement(sight, map, grid, QUICK_WINDOW, USUAL_RATES, QUICK_UNITS),
    }))
    .sort((a, b) => b.quick.logOdds - a.quick.logOdds)
    .slice(0, FITTED)
    .flatMap(({ map }) => fitPlacement(sight, picture, grid, map, WINDOWS) ?? [])
    .filter(
      ({ map, evidence }) =>
        agreesWithStated(map, stated, grid) && linesIn(evidence) >= FEWEST_LINES,
    );
  const misshape = ({ map }: Candidate) => Math.abs(Math.log(aspectOf(map)));
  const least = Math.min(...fitted.map(misshape));
  const shapely = fitted
    .filter((one) => misshape(one) - least < CLEAR_ASPECT)
    .sort((a, b) => b.merit - a.merit);
  const [best, ...others] = shapely;
  if (!best?.verdict.accepted) return { kind: 'none' };
  // Among many even lines those of any program are found somewhere: then it is another grid.
  const even = findLocalLattice(sight, picture, pairs);
  if (stated.length < STATED_SETTLE && even !== undefined && isPlain(even)) return { kind: 'none' };
  const rivals = others.filter(
    (one) => best.merit - one.merit < CLEAR_ODDS && !isSamePlace(one, best, grid),
  );
  if (rivals.length > 0) return { kind: 'ambiguous', placements: rivals.length + 1 };
  const inView = best.evidence.lineShare.map((line) => {
    const seen = [...line.keys()].filter((k) => !Number.isNaN(line[k]));
    return [seen[0], seen[seen.length - 1]] as const;
  });
  // Slightly uneven rows bend onto one another, and not every one of them was tried.
  if (stated.length < STATED_SETTLE && hasLookAlike([grid.xs, grid.ys], inView)) {
    return { kind: 'ambiguous', placements: Math.max(2, fitted.length) };
  }
  return { kind: 'found', candidate: best, rivals: [] };
}

function proposeMaps(pair: PencilPair, grid: ProgramGrid, picture: ReducedImage) {
  const frame = frameOf(picture);
  const pencils = [pair.first, pair.second];
  const horizon = vanishingLine(pair.first, pair.second);
  const profiles = pencils.map((pencil, f) =>
    profileOf(pair.places[f], pencil, horizon, pair.kappa, frame.radiusPx),
  );
  return [false, true].flatMap((swapped) => {
    const [rowX, rowY]: GapMatch[][] = [
      matchGaps(profiles[swapped ? 1 : 0], grid.xs),
      matchGaps(profiles[swapped ? 0 : 1], grid.ys),
    ];
    return rowX.flatMap((x) =>
      rowY.flatMap((y) => {
        const map = mapOf(pencils, horizon, pair.kappa, frame, swapped, x, y);
        if (map === undefined || !isUnmirrored(map, grid)) return [];
        return Math.abs(Math.log(aspectOf(map))) < WORST_ASPECT ? [map] : [];
      }),
    );
  });
}

/** Of the family of which fewer lines are in the picture. */
function linesIn({ lineShare }: Evidence): number {
  return Math.min(...lineShare.map((line) => line.filter((share) => !Number.isNaN(share)).length));
}

/** True where both put the crossing that one has nearest to the picture's middle at the same pixel. */
function isSamePlace(a: Candidate, b: Candidate, { xs, ys, pitchMm }: ProgramGrid): boolean {
  const [cu, cv] = a.map.centrePx;
  let nearest = { x: xs[0], y: ys[0], off: Number.POSITIVE_INFINITY };
  for (const x of xs) {
    for (const y of ys) {
      const [u, v] = imageFromCommanded(a.map, x, y);
      const off = Math.hypot(u - cu, v - cv);
      if (off < nearest.off) nearest = { x, y, off };
    }
  }
  const { x, y } = nearest;
  return [
    [x, y],
    [x + pitchMm[0], y],
    [x, y + pitchMm[1]],
  ].every(([p, q]) => {
    const [u, v] = imageFromCommanded(a.map, p, q);
    const [u1, v1] = imageFromCommanded(b.map, p, q);
    const [u2, v2] = imageFromCommanded(a.map, p + pitchMm[0], q);
    return Math.hypot(u1 - u, v1 - v) < SAME_PLACE * Math.hypot(u2 - u, v2 - v);
  });
}
