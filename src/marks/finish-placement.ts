/** From the accepted candidate to what is told of it: centred on the marks at full size, with its rivals. */

import { failed, type Outcome, success } from '../quantity/index.js';
import { CLEAR_ODDS, chooseTurn } from './choose-turn.js';
import { type ImageMap, scaledMap } from './image-map.js';
import { type Evidence, ownRates, weighPlacement } from './lattice-evidence.js';
import type { CentredMarks, MarkAppearance, MarkCentring } from './mark-appearance.js';
import { aspectOf, pitchOf, scatterOf } from './measure-placement.js';
import { listTurns, shiftedMap } from './placement-turns.js';
import type { ProgramGrid } from './program-grid.js';
import type { PartSearch } from './search-part.js';
import {
  type Candidate,
  EXACT,
  fullSizeMap,
  NEAR_SHIFTS,
  renumber,
  scatterCost,
} from './search-placement.js';
import { agreesWithStated, type StatedCrossing } from './stated-crossing.js';

/** Another placement that explains the picture nearly as well. */
export interface RivalPlacement {
  readonly map: ImageMap;
  /** Turn of the program against the returned placement, counter-clockwise on the board. */
  readonly rotationDeg: 90 | 180 | 270;
  /** Log odds of the returned placement against this one; near 0: nothing tells them apart. */
  readonly evidence: number;
}

export interface LatticeFit {
  /** Commanded mm to sensor px of the full-size picture. */
  readonly map: ImageMap;
  /** Share of the predicted stroke length, inside the picture, that shows a mark; 0..1. */
  readonly shareFound: number;
  readonly polarity: MarkAppearance['polarity'];
  /** Full width at half depth of the averaged mark; px. */
  readonly markWidthPx: number;
  readonly rivals: readonly RivalPlacement[];
  /** True only where no rival is left. */
  readonly certain: boolean;
  /** Share of places midway between lines that look marked: texture that passes for marks. */
  readonly shareBetween: number;
  /** Scatter of the marks about the map, across the lines; full-size px. */
  readonly scatterPx: number;
  /** Share of the predicted strokes that lie inside the picture. */
  readonly shareInPicture: number;
  /** Seen height-to-width ratio of a commanded square, were the camera plain; 1 where it fits. */
  readonly aspect: number;
  /** Gap between neighbouring lines in the middle of the grid; full-size px. */
  readonly pitchPx: number;
  /** Log odds of the placement against no marks at all. */
  readonly logOdds: number;
}

/** Marks by which a shift is looked at first, and by how much more than is asked it has to lose by them. */
const FEW_UNITS = 400;
const CLEARER = 2;

/**
 * Of the whole grid: no shift by whole lines, and of the turns only those that are named as rivals, may
 * explain the picture as well.
 *
 * Fails: GRID_AMBIGUOUS; GRID_NOT_FOUND where a stated crossing is not there.
 */
export function finishWhole(
  centring: MarkCentring,
  grid: ProgramGrid,
  found: Candidate,
  stated: readonly StatedCrossing[],
  step: (name: string) => void,
): Outcome<LatticeFit> {
  const { sight } = found;
  const rates = ownRates(found.evidence);
  const most = Number.POSITIVE_INFINITY;
  const own = weighPlacement(sight, found.map, grid, EXACT, rates);
  const few = weighPlacement(sight, found.map, grid, EXACT, rates, FEW_UNITS, own.limits);
  for (const [i, j] of NEAR_SHIFTS) {
    const shifted = shiftedMap(found.map, grid, i, j);
    const weigh = (units: number) =>
      weighPlacement(sight, shifted, grid, EXACT, rates, units, own.limits);
    // What some of the marks tell apart clearly, all of them do as well.
    if (few.logOdds - weigh(FEW_UNITS).logOdds >= CLEARER * CLEAR_ODDS) continue;
    const other = weigh(most);
    if (own.logOdds - other.logOdds < CLEAR_ODDS && other.inPicture > 0.5 * own.inPicture) {
      return failed(
        'GRID_AMBIGUOUS',
        `the grid fits as well ${i || j} line(s) further along ${i === 0 ? 'Y' : 'X'}`,
        {
          hint: 'let the photo show the whole grid with its outer lines uncovered',
          figures: { logOdds: own.logOdds - other.logOdds },
        },
      );
    }
  }
  const turns = listTurns(found.map, grid).flatMap((turn) => {
    const map = turn.exact ? turn.map : renumber(found, turn.move, grid)?.map;
    if (map === undefined) return [];
    // A quarter turn puts either family onto the marks of the other.
    const [x, y] = own.limits;
    const limits = [y, x] as const;
    const isQuarter = turn.rotationDeg === 90 || turn.rotationDeg === 270;
    const turned = weighPlacement(
      sight,
      map,
      grid,
      EXACT,
      rates,
      most,
      isQuarter ? limits : own.limits,
    );
    return {
      turn: { ...turn, map },
      logOdds: turned.ownOdds - scatterCost(map, turned.sightings, grid),
      misshape: Math.abs(Math.log(aspectOf(map))),
    };
  });
  const { chosen, rivals } = chooseTurn(turns);
  step('turns');
  const centred = centring.of(scaledMap(chosen.map, found.picture.factor), grid);
  step('appearance');
  const doubt = whyNoMiddle(centred, grid);
  if (doubt !== undefined) return doubt;
  const fit: LatticeFit = {
    ...describeFound(found, own, centred, grid),
    rivals: rivals.flatMap((rival) => {
      const turned = listTurns(centred.map, grid).find(
        (turn) => turn.rotationDeg === rival.rotationDeg,
      );
      return turned === undefined ? [] : [{ ...rival, map: turned.map }];
    }),
    certain: rivals.length === 0,
    aspect: aspectOf(chosen.map),
  };
  return settleByStated(fit, stated, grid);
}

/** What was said of a crossing decides among turns that the marks leave open, and is refused where they do not. */
function settleByStated(
  fit: LatticeFit,
  stated: readonly StatedCrossing[],
  grid: ProgramGrid,
): Outcome<LatticeFit> {
  if (stated.length === 0) return success(fit);
  const options = [{ map: fit.map, rotationDeg: 0, evidence: 0 }, ...fit.rivals];
  const [chosen, ...others] = options.filter(({ map }) => agreesWithStated(map, stated, grid));
  if (chosen === undefined) {
    const places = stated.map(({ xMm, yMm }) => `(${xMm}, ${yMm})`).join(', ');
    return failed(
      'GRID_NOT_FOUND',
      `the grid was found, but the crossing ${places} is not where it was said to be`,
      { hint: 'count the lines again, or leave --crossing out: the marks tell by themselves' },
    );
  }
  return success({
    ...fit,
    map: chosen.map,
    rivals: others.map(({ map, rotationDeg, evidence }) => ({
      map,
      rotationDeg: ((rotationDeg - chosen.rotationDeg + 360) % 360) as 90 | 180 | 270,
      evidence: evidence - chosen.evidence,
    })),
    certain: others.length === 0,
  });
}

/** Of a part of the grid, whose rivals are known already. */
export function finishPart(
  centring: MarkCentring,
  grid: ProgramGrid,
  { candidate, rivals }: Extract<PartSearch, { kind: 'found' }>,
  step: (name: string) => void,
): Outcome<LatticeFit> {
  const centred = centring.of(fullSizeMap(candidate), grid);
  step('appearance');
  const doubt = whyNoMiddle(centred, grid);
  if (doubt !== undefined) return doubt;
  return success({
    ...describeFound(candidate, candidate.evidence, centred, grid),
    rivals: rivals.map((rival) => ({
      map: centring.of(fullSizeMap(rival.candidate), grid).map,
      rotationDeg: rival.rotationDeg,
      evidence: rival.evidence,
    })),
    certain: rivals.length === 0,
    aspect: aspectOf(candidate.map),
  });
}

/** Dark and bright parts wider than a third of the gap are as well marks on a board as board between marks. */
const WIDEST_MIXED = 1 / 3;

function whyNoMiddle({ map, appearance }: CentredMarks, grid: ProgramGrid) {
  const { polarity, widthPx } = appearance;
  const pitchPx = pitchOf(map, grid);
  if (polarity !== 'mixed' || widthPx <= WIDEST_MIXED * pitchPx) return undefined;
  return failed(
    'GRID_NOT_FOUND',
    'lines seen, but so wide that marks and gaps between them cannot be told apart',
    { hint: 'mark the grid with a finer tool or a wider spacing', figures: { widthPx, pitchPx } },
  );
}

/** What a fit says of a placement, whichever way round it lies. */
function describeFound(
  { map: reduced, evidence, picture }: Candidate,
  own: Evidence,
  { map, appearance }: CentredMarks,
  grid: ProgramGrid,
) {
  return {
    map,
    shareFound: own.share,
    polarity: appearance.polarity,
    markWidthPx: appearance.widthPx,
    shareBetween: (own.betweenShare[0] + own.betweenShare[1]) / 2,
    scatterPx: scatterOf(reduced, evidence.sightings) * picture.factor,
    shareInPicture: own.inPicture,
    pitchPx: pitchOf(map, grid),
    logOdds: own.ownOdds,
  };
}
