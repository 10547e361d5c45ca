/** A photo of a part of an evenly spaced grid: which part, from what is marked in its cells and where lines end. */

import type { QuarterTurns } from './cell-contents.js';
import { CLEAR_ASPECT, CLEAR_ODDS } from './choose-turn.js';
import { findLocalLattice, type LocalLattice } from './find-local-lattice.js';
import type { PencilPair } from './find-pencils.js';
import { WORST_ASPECT } from './judge-placement.js';
import {
  misshapeOf,
  type PartPlacement,
  type PartView,
  rankPlacements,
} from './place-by-contents.js';
import type { Sight } from './probe-unit.js';
import type { ProgramGrid } from './program-grid.js';
import type { ReducedImage } from './reduce-image.js';
import { type Candidate, fitPlacement, NARROW_WINDOWS } from './search-placement.js';
import { agreesWithStated, type StatedCrossing } from './stated-crossing.js';

export interface PartRival {
  readonly candidate: Candidate;
  readonly rotationDeg: 90 | 180 | 270;
  /** Log odds of the found placement against this one. */
  readonly evidence: number;
}

export type PartSearch =
  /** Why, where a lattice was seen that is not the program's. */
  | { readonly kind: 'none'; readonly reason?: string }
  | {
      readonly kind: 'found';
      readonly candidate: Candidate;
      /** Placements under other turns that explain the photo nearly as well. */
      readonly rivals: readonly PartRival[];
    }
  | {
      readonly kind: 'ambiguous';
      /** Shifts along X and along Y among the placements that explain the photo as well. */
      readonly shifts: readonly [number, number];
      readonly placements: number;
    };

export interface PartSearchRequest {
  readonly sight: Sight;
  readonly picture: ReducedImage;
  readonly grid: ProgramGrid;
  readonly pairs: readonly PencilPair[];
  /** Crossings somebody stated, in px of `picture`. */
  readonly stated: readonly StatedCrossing[];
  /** A finer look at small marks, made where one is needed. */
  readonly lookCloser: () => PartView['fine'];
}

/** Marks on the lines of a plain lattice are this much commoner than between them. */
const PLAIN_CONTRAST = 0.5;
/** So many of the placements that are as likely are judged, until one passes. */
const TIES_JUDGED = 12;
const TURNS = [0, 1, 2, 3] as const;

/** @param grid evenly spaced in either direction. */
export function searchPart(request: PartSearchRequest): PartSearch {
  const { sight, picture, grid, pairs, stated } = request;
  const lattice = findLocalLattice(sight, picture, pairs);
  if (lattice === undefined) return { kind: 'none' };
  const { share, betweenShare } = lattice.evidence;
  const fine = request.lookCloser();
  const view: PartView = {
    lattice,
    sight,
    picture,
    ...(fine === undefined ? {} : { fine }),
    rates: {
      on: Math.min(0.97, Math.max(0.3, share)),
      off: Math.min(0.5, Math.max(0.03, ...betweenShare)),
    },
  };
  const all = rankPlacements(view, grid, shapelyTurns(lattice, grid));
  const meant = all.filter(({ map }) => agreesWithStated(map, stated, grid));
  const best = meant[0];
  if (best === undefined) return { kind: 'none' };
  const near = meant.filter((placement) => best.odds - placement.odds < CLEAR_ODDS);
  const perTurn = TURNS.map((turns) => near.filter((placement) => placement.turns === turns));
  const isOpen = perTurn.some((own) => own.length > 1);
  if (isOpen) {
    // Only a lattice as plain as a grid in a good photo is worth asking about; grain makes others.
    const { familyShare } = lattice.evidence;
    const isPlain = familyShare.every((own, f) => own - betweenShare[f] > PLAIN_CONTRAST);
    const step = Math.ceil(near.length / TIES_JUDGED);
    const isGrid = near
      .filter((_, i) => i % step === 0)
      .some(({ map }) => fitPlacement(sight, picture, grid, map, NARROW_WINDOWS)?.verdict.accepted);
    return isPlain && isGrid ? describeTies(near) : { kind: 'none' };
  }
  const candidates = near.map((placement) => ({
    placement,
    candidate: fitPlacement(sight, picture, grid, placement.map, NARROW_WINDOWS),
  }));
  const [found] = candidates;
  if (found?.candidate === undefined) return { kind: 'none' };
  const { accepted, reason } = found.candidate.verdict;
  if (!accepted) return { kind: 'none', reason };
  return {
    kind: 'found',
    candidate: found.candidate,
    rivals: candidates.slice(1).flatMap(({ placement, candidate }) => {
      if (candidate?.verdict.accepted !== true) return [];
      const quarters = (placement.turns - best.turns + 4) % 4;
      return [
        {
          candidate,
          rotationDeg: (90 * quarters) as PartRival['rotationDeg'],
          evidence: best.odds - placement.odds,
        },
      ];
    }),
  };
}

/** Turns under which the cells seen have the program's shape, as nearly as the best. */
function shapelyTurns(lattice: LocalLattice, grid: ProgramGrid): QuarterTurns[] {
  const misshape = TURNS.map((turns) => misshapeOf(lattice, grid, turns));
  const least = Math.min(...misshape);
  return TURNS.filter(
    (turns) => misshape[turns] < WORST_ASPECT && misshape[turns] - least < CLEAR_ASPECT,
  );
}

function describeTies(near: readonly PartPlacement[]): PartSearch {
  const extent = (k: 0 | 1) => new Set(near.map(({ shift }) => shift[k])).size;
  return { kind: 'ambiguous', shifts: [extent(0), extent(1)], placements: near.length };
}
