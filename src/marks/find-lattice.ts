/** Finds the program's grid in a photo: where it lies, which way round, and how sure that is. */

import type { Stroke } from '../../shared/stroke.js';
import { failed, type GreyImage, type Outcome } from '../quantity/index.js';
import type { CellView } from './board-texture.js';
import { notFound } from './explain-absence.js';
import { finishPart, finishWhole, type LatticeFit } from './finish-placement.js';
import { imageFromCommanded, scaledMap } from './image-map.js';
import { type Evidence, isPlain } from './lattice-evidence.js';
import { type MarkAppearance, MarkCentring } from './mark-appearance.js';
import { evenCore } from './placement-turns.js';
import type { Sight } from './probe-unit.js';
import { describeGrid, MIDWAY, type ProgramGrid } from './program-grid.js';
import type { ReducedImage } from './reduce-image.js';
import { type Scene, Scenes } from './scenes.js';
import { type PartSearch, searchPart } from './search-part.js';
import {
  type Candidate,
  fitPlacement,
  fullSizeMap,
  isBetter,
  isClear,
  NARROW_WINDOWS,
  searchPlacement,
} from './search-placement.js';
import { searchUnevenPart } from './search-uneven-part.js';
import type { StatedCrossing } from './stated-crossing.js';

export interface FindLatticeOptions {
  /** Longest sides at which to search, in this order; px. */
  readonly sidesPx?: readonly number[];
  /** Crossings whose places in the picture somebody has stated; sensor px. They settle what the marks leave open. */
  readonly stated?: readonly StatedCrossing[];
  /** Told the lattice of a part that fails as GRID_AMBIGUOUS: other photos may tell where it lies. */
  readonly onOpenPart?: (view: CellView) => void;
  /** Lines of another program lie midway between the grid's own. */
  readonly isInterleaved?: boolean;
  /** Marks are known to be dark (1) or bright (-1) against the board. */
  readonly sign?: 1 | -1;
  /** No part of the grid is looked for, only the whole. */
  readonly isWhole?: boolean;
  /** Told how long each step took. */
  readonly onStep?: (step: string, ms: number) => void;
}

/**
 * First size: noise averaged away, gaps of 80 lines still wide enough. Then coarser for broad grooves,
 * then finer for hairlines.
 */
const SIDES_PX = [1400, 700, 2400];
/** A picture whose longest side holds all lines at least this far apart is searched at the second size first; px. */
const ROOMY_GAP_PX = 28;
/** Longest side at which small marks in the cells are looked at; px. */
const CLOSER_PX = 2800;
const UNPLACED = 'lines seen, but neither an end of them nor a mark that tells which they are';
/** A picture no larger than the first size is looked at halved as well, but never smaller than this. */
const SMALLEST_HALF_PX = 480;
/** A mark wider than this in a reduced picture is seen as two crests, one beside each edge; px. */
const TWO_CRESTS_PX = 5;
/** Another size has a say where it shows at least this share of what the found one shows. */
const AS_CLEAR = 0.9;

/**
 * The whole grid, or the part of it that the marks in its cells, the ends of its lines or a stated
 * crossing name.
 *
 * @param grey the photo, sensor frame; 0.3 to 100 megapixels.
 * @param strokes what the program commanded; mm.
 * Fails: PROGRAM_NO_GRID; GRID_NOT_FOUND; GRID_AMBIGUOUS; PHOTO_BLURRED.
 */
export async function findLattice(
  grey: GreyImage,
  strokes: readonly Stroke[],
  options: FindLatticeOptions = {},
): Promise<Outcome<LatticeFit>> {
  const grid = describeGrid(strokes, options.isInterleaved);
  if (grid === undefined) {
    return failed('PROGRAM_NO_GRID', 'the strokes form no grid of at least 4 lines along X and Y');
  }
  const step = stepClock(options.onStep);
  let best: Candidate | undefined;
  let tried = 0;
  const reasons = new Set<string>();
  const attempts = listAttempts(grey, grid, options.sidesPx ?? SIDES_PX).filter(
    ([, sign]) => sign === (options.sign ?? sign),
  );
  const [firstSide, secondSide = firstSide] = attempts.map(([side]) => side);
  const scenes = new Scenes(grey, step);
  const centring = new MarkCentring(grey);
  const core = options.isWhole ? undefined : evenCore(grid);
  const stated = options.stated ?? [];
  const statedIn = (picture: ReducedImage) => stated.map((one) => reducedCrossing(one, picture));
  const searchPartAt = (scene: Scene, sign: Sight['sign'], even: ProgramGrid) => {
    const { picture } = scene;
    const part = searchPart({
      sight: scene.sight(sign),
      picture,
      grid: even,
      pairs: scene.pencils(sign),
      stated: statedIn(picture),
      lookCloser: () => {
        const finer = scenes.at(Math.min(CLOSER_PX, Math.max(grey.width, grey.height)));
        return {
          picture: finer.picture,
          // Asked for only where the program has marks that are short in the picture.
          get sight() {
            return finer.sight(sign);
          },
        };
      },
    });
    step(`part: ${part.kind}`);
    return part;
  };
  const ambiguous = (part: AmbiguousPart, factor: number) => {
    const { map, cells } = part.lattice;
    options.onOpenPart?.({ map: scaledMap(map, factor), cells });
    return partAmbiguous(part);
  };
  let open: { readonly part: AmbiguousPart; readonly factor: number } | undefined;
  for (const [side, sign] of attempts) {
    const scene = scenes.at(side);
    const found = searchAt(scene, sign, grid, step);
    tried++;
    step(`attempt ${side} ${sign}: ${found?.verdict.reason ?? 'none'} ${found?.evidence.share}`);
    const reason = found?.verdict.kind === 'counted' ? found.verdict.reason : undefined;
    // Small pictures show a wide mark by its flanks, now one and now the other: the usual size comes next.
    const isSmall = side === firstSide && firstSide < secondSide;
    if (isSmall && found?.verdict.accepted && !hasOwnSign(centring, grid, found)) continue;
    if (found !== undefined && (best === undefined || isBetter(found, best))) best = found;
    if (best !== undefined && isClear(best)) break;
    const isPart = best?.verdict.accepted !== true && !(found && isOtherGrid(found, grid));
    if (core !== undefined && isPart) {
      const part = searchPartAt(scene, sign, core);
      if (part.kind === 'found') return finishPart(centring, core, part, step);
      if (part.kind === 'ambiguous') {
        // Another size or sign that leaves it open too settles that.
        if (open !== undefined) break;
        open = { part, factor: scene.picture.factor };
      }
    }
    if (core === undefined && !options.isWhole && best?.verdict.accepted !== true) {
      const { picture } = scene;
      const part = searchUnevenPart(
        scene.sight(sign),
        picture,
        grid,
        scene.pencils(sign),
        statedIn(picture),
      );
      step(`part: ${part.kind}`);
      if (part.kind === 'found') return finishPart(centring, grid, part, step);
      if (part.kind === 'ambiguous') return partAmbiguous(part);
    }
    // Two sizes that see the same other grid settle it.
    if (reason !== undefined && found !== undefined && found.evidence.share > 0.6) {
      if (reasons.has(reason) && hasOwnSign(centring, grid, found)) break;
      reasons.add(reason);
    }
    // Others on the event loop get their turn between attempts.
    await new Promise((resolve) => setImmediate(resolve));
  }
  if (open !== undefined && best?.verdict.accepted !== true) {
    const absent = notFound(grey, UNPLACED, tried, best?.evidence);
    return absent.failure.code === 'PHOTO_BLURRED' ? absent : ambiguous(open.part, open.factor);
  }
  if (best === undefined) return notFound(grey, 'no two crossing families of lines', tried);
  const { picture } = best;
  const scene = scenes.all().find((one) => one.picture === picture)!;
  if (best.verdict.accepted) {
    const coarser = () => scenes.at(Math.min(firstSide, secondSide));
    best = withOwnSign(centring, grid, best, scene, coarser, step);
  }
  if (best.verdict.accepted) best = withOtherSizes(grid, best, scenes.all(), step);
  if (!best.verdict.accepted) return notFound(grey, best.verdict.reason, tried, best.evidence);
  const cut = core === undefined ? [] : cutSides(best.evidence, grid, core);
  if (core !== undefined && cut.some((ends) => ends > 0)) {
    // Shifts are compared by all that is marked, not by the nearest ones alone.
    const part = searchPartAt(scene, best.sight.sign, core);
    if (part.kind === 'found') return finishPart(centring, core, part, step);
    if (part.kind === 'ambiguous') return ambiguous(part, picture.factor);
    if (cut.includes(2)) return notFound(grey, UNPLACED, tried, best.evidence);
  }
  return finishWhole(centring, grid, best, stated, step);
}

/**
 * At another size other things are sharp: a border that is one more line at this size may be seen not to
 * be one at that. A placement that another size counts otherwise is refused.
 */
function withOtherSizes(
  grid: ProgramGrid,
  found: Candidate,
  scenes: readonly Scene[],
  step: (name: string) => void,
): Candidate {
  for (const scene of scenes) {
    if (scene.picture === found.picture) continue;
    const sight = scene.sight(found.sight.sign);
    const start = scaledMap(fullSizeMap(found), 1 / scene.picture.factor);
    const other = fitPlacement(sight, scene.picture, grid, start, NARROW_WINDOWS);
    step('other size');
    // Where little of it shows at that size, its count means little.
    if (other === undefined || other.evidence.share < AS_CLEAR * found.evidence.share) continue;
    if (other.verdict.kind === 'counted') return { ...found, verdict: other.verdict };
  }
  return found;
}

/**
 * A plain lattice, all of it in the picture, of which not as many lines were counted as the program has:
 * no part of the program's grid is in view.
 */
function isOtherGrid({ verdict, evidence, map, picture }: Candidate, grid: ProgramGrid): boolean {
  if (verdict.kind !== 'counted' || evidence.inPicture < 1 || !isPlain(evidence)) return false;
  const outside = [grid.xs, grid.ys].map((at, f) => {
    const gap = grid.pitchMm[f];
    return [at[0] - gap, at[at.length - 1] + gap];
  });
  return outside[0].every((x) =>
    outside[1].every((y) => {
      const [u, v] = imageFromCommanded(map, x, y);
      return u >= 0 && v >= 0 && u < picture.width && v < picture.height;
    }),
  );
}

function hasOwnSign(centring: MarkCentring, grid: ProgramGrid, found: Candidate): boolean {
  const { appearance, isLost } = centring.of(fullSizeMap(found), grid);
  return !isLost && isOfSign(appearance, found.sight.sign);
}

function isOfSign({ polarity }: MarkAppearance, sign: Sight['sign']): boolean {
  return polarity === 'mixed' || polarity === (sign === 1 ? 'dark' : 'bright');
}

/**
 * A bright mark has dark flanks: what was found on them is searched anew by the mark itself, and where that
 * is so wide that it has two crests of its own, in a coarser picture.
 */
function withOwnSign(
  centring: MarkCentring,
  grid: ProgramGrid,
  found: Candidate,
  scene: Scene,
  coarser: () => Scene,
  step: (name: string) => void,
): Candidate {
  const { map, appearance } = centring.of(fullSizeMap(found), grid);
  step('sign');
  if (isOfSign(appearance, found.sight.sign)) return found;
  const sign = found.sight.sign === 1 ? -1 : 1;
  // From the middle of the mark: a wide one's flank lies outside the window of the fit.
  const fitAt = ({ sight, picture }: Scene) =>
    fitPlacement(sight(sign), picture, grid, scaledMap(map, 1 / picture.factor), NARROW_WINDOWS);
  const near = fitAt(scene);
  if (near?.verdict.accepted) return near;
  if (appearance.widthPx > TWO_CRESTS_PX * scene.picture.factor) {
    const single = fitAt(coarser());
    step('sign, coarser');
    if (single?.verdict.accepted) return single;
  }
  const other = searchAt(scene, sign, grid, step);
  if (other?.verdict.accepted) return other;
  return { ...found, verdict: other?.verdict ?? near?.verdict ?? found.verdict };
}

/** How many of the two outermost lines of the even part lie outside the picture, per family. */
function cutSides({ lineShare }: Evidence, grid: ProgramGrid, core: ProgramGrid): number[] {
  const all = [grid.xs, grid.ys];
  return [core.xs, core.ys].map((lines, f) => {
    const ends = [lines[0], lines[lines.length - 1]].map((at) => all[f].indexOf(at));
    return ends.filter((line) => Number.isNaN(lineShare[f][line])).length;
  });
}

/** Dark marks are the usual ones: two sizes before the first look for bright ones. */
function listAttempts(
  grey: GreyImage,
  grid: ProgramGrid,
  given: readonly number[],
): [number, 1 | -1][] {
  const longest = Math.max(grey.width, grey.height);
  const [large, small, ...others] = given;
  // A search costs as the square of the size, and lines far apart are as plain at the smaller one.
  const own = Math.max(grid.xs.length, grid.ys.length);
  const lines = grid.freeShare < MIDWAY ? 2 * own : own;
  const isSmallFirst = longest > large && small / lines >= ROOMY_GAP_PX;
  const sides = isSmallFirst ? [small, large, ...others] : given;
  const half = Math.max(SMALLEST_HALF_PX, Math.round(longest / 2));
  const sizes = sides.map((side, i) =>
    Math.min(side, longest <= sides[0] && i === 1 ? half : longest),
  );
  const [first, second, ...rest] = sizes.filter((side, i) => sizes.indexOf(side) === i);
  const attempts: [number, 1 | -1][] = [];
  const early = second === undefined ? [first] : [first, second];
  for (const sign of [1, -1] as const) for (const side of early) attempts.push([side, sign]);
  for (const side of rest) attempts.push([side, 1], [side, -1]);
  return attempts;
}

function searchAt(
  scene: Scene,
  sign: Sight['sign'],
  grid: ProgramGrid,
  step: (name: string) => void,
): Candidate | undefined {
  return searchPlacement(scene.sight(sign), scene.picture, grid, scene.pencils(sign), step);
}

type AmbiguousPart = Extract<PartSearch, { kind: 'ambiguous' }>;

function partAmbiguous({ placements }: Pick<AmbiguousPart, 'placements'>): Outcome<LatticeFit> {
  return failed(
    'GRID_AMBIGUOUS',
    `a part of the grid is seen, and ${placements} places in the program explain it as well`,
    {
      hint: 'let the photo show the origin mark, cell codes or the ends of lines on two neighbouring sides, or state a crossing (--crossing)',
      figures: { placements },
    },
  );
}

function reducedCrossing(stated: StatedCrossing, { factor }: ReducedImage): StatedCrossing {
  return {
    ...stated,
    uPx: (stated.uPx + 0.5) / factor - 0.5,
    vPx: (stated.vPx + 0.5) / factor - 0.5,
  };
}

function stepClock(onStep: FindLatticeOptions['onStep']): (name: string) => void {
  if (onStep === undefined) return () => undefined;
  let last = performance.now();
  return (name) => {
    const now = performance.now();
    onStep(name, now - last);
    last = now;
  };
}
