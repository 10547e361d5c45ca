/** A photo of a part of an evenly spaced grid: which part, from what is marked in its cells and where lines end. */

import type { QuarterTurns } from './cell-contents.js';
import { CLEAR_ASPECT, CLEAR_ODDS } from './choose-turn.js';
import { findLocalLattice, type LocalLattice } from './find-local-lattice.js';
import type { PencilPair } from './find-pencils.js';
import { WORST_ASPECT } from './judge-placement.js';
import { ownRates } from './lattice-evidence.js';
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
  | { readonly kind: 'none' }
  | {
      readonly kind: 'found';
      readonly candidate: Candidate;
      /** Placements under other turns that explain the photo nearly as well. */
      readonly rivals: readonly PartRival[];
    }
  | {
      readonly kind: 'ambiguous';
      /** How many explain the photo as well. */
      readonly placements: number;
      /** In px of the picture that was searched. */
      readonly lattice: LocalLattice;
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
  const fine = request.lookCloser();
  const view: PartView = {
    lattice,
    sight,
    picture,
    ...(fine === undefined ? {} : { fine }),
    rates: ownRates(lattice.evidence),
  };
  const all = rankPlacements(view, grid, shapelyTurns(lattice, grid));
  const meant = all.filter(({ map }) => agreesWithStated(map, stated, grid));
  const best = meant[0];
  if (best === undefined) return { kind: 'none' };
  const near = meant.filter((placement) => best.odds - placement.odds < CLEAR_ODDS);
  /** The placement fitted to the marks, where it passes as the program's grid. */
  const accept = ({ map }: PartPlacement) => {
    const candidate = fitPlacement(sight, picture, grid, map, NARROW_WINDOWS);
    return candidate?.verdict.accepted ? candidate : undefined;
  };
  if (new Set(near.map(({ turns }) => turns)).size < near.length) {
    const step = Math.ceil(near.length / TIES_JUDGED);
    const isGrid =
      isPlain(lattice) && near.some((one, i) => i % step === 0 && accept(one) !== undefined);
    return isGrid ? { kind: 'ambiguous', placements: near.length, lattice } : { kind: 'none' };
  }
  const found = accept(best);
  if (found === undefined) return { kind: 'none' };
  return {
    kind: 'found',
    candidate: found,
    rivals: near.slice(1).flatMap((placement) => {
      const candidate = accept(placement);
      if (candidate === undefined) return [];
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

/** Only a lattice as plain as a grid in a good photo is worth asking about; grain makes others. */
export function isPlain({ evidence: { familyShare, betweenShare } }: LocalLattice): boolean {
  return familyShare.every((own, f) => own - betweenShare[f] > PLAIN_CONTRAST);
}
