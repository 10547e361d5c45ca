/** Finds the grids of two programs in one photo of a board that both have marked. */

import type { Stroke } from '../../shared/stroke.js';
import { type Failure, failed, type GreyImage, type Outcome, success } from '../quantity/index.js';
import { CLEAR_ODDS } from './choose-turn.js';
import { type FindLatticeOptions, findLattice } from './find-lattice.js';
import type { LatticeFit } from './finish-placement.js';
import { commandedFromImage, type ImageMap, imageFromCommanded } from './image-map.js';
import { maskMarks } from './mask-marks.js';
import { type PlacementBetween, placementBetween } from './placement-between.js';
import { describeGrid, type ProgramGrid } from './program-grid.js';

export interface LatticePair {
  /** In the order of the programs. */
  readonly fits: readonly [LatticeFit, LatticeFit];
  /** Where the second program's marks lie in the frame of the first's. */
  readonly between: PlacementBetween;
}

/** Strokes of a program, and what people call it. */
export interface NamedMarks {
  readonly name: string;
  readonly strokes: readonly Stroke[];
}

type Programs = readonly [NamedMarks, NamedMarks];

/**
 * Which grid is looked for first, and whether the other's lines are thought to lie midway between its own: after a
 * quarter turn they do, after one that misses that by some degrees they lie anywhere. The grid of more lines
 * reaches beyond the other one: its ends are the plainer ones.
 */
function listTrials(programs: Programs): (readonly [first: 0 | 1, isInterleaved: boolean])[] {
  const [first, second] = programs.map(({ strokes }) => {
    const grid = describeGrid(strokes);
    return grid === undefined ? 0 : grid.xs.length * grid.ys.length;
  });
  const order = second > first ? ([1, 0] as const) : ([0, 1] as const);
  return order.flatMap((k) => [true, false].map((isInterleaved) => [k, isInterleaved] as const));
}

/** Marks on the board lie where both programs put them but for the machine's errors; of the size. */
const MOST_UNLIKE = 0.01;

/**
 * One grid is looked for among the marks of both, the other one where its marks are painted over; then the first
 * one again, where the other's are. So each is found as if it were alone, by all that is asked of a single grid.
 *
 * @param grey the photo, sensor frame.
 * @param options of the first program's grid.
 * Fails: what `findLattice` fails with; GRID_AMBIGUOUS where the sets of marks cannot be told apart.
 */
export async function findLatticePair(
  grey: GreyImage,
  programs: Programs,
  options: FindLatticeOptions = {},
): Promise<Outcome<LatticePair>> {
  const optionsOf = (k: number): FindLatticeOptions => {
    const { stated, ...rest } = options;
    return k === 0 && stated !== undefined ? { ...rest, stated } : rest;
  };
  let failure: Failure | undefined;
  const tried: { k: 0 | 1; map: ImageMap }[] = [];
  for (const [k, isInterleaved] of listTrials(programs)) {
    const own = programs[k];
    const other = programs[1 - k];
    const whole = { ...optionsOf(k), isWhole: true };
    const rough = await findLattice(grey, own.strokes, { ...whole, isInterleaved });
    if (!rough.ok) {
      failure ??= explain(rough.failure, own);
      continue;
    }
    const { map, polarity } = rough.value;
    const lines = describeGrid(own.strokes)!;
    if (tried.some((one) => one.k === k && isSamePlace(one.map, map, lines))) continue;
    tried.push({ k, map });
    // One machine, one tool: the other's marks are dark or bright as these are.
    const sign = polarity === 'mixed' ? {} : ({ sign: polarity === 'dark' ? 1 : -1 } as const);
    const rest = maskMarks(grey, own.strokes, rough.value);
    const second = await findLattice(rest, other.strokes, {
      ...optionsOf(1 - k),
      ...sign,
      isWhole: true,
    });
    if (!second.ok) {
      failure = explain(second.failure, other, own);
      continue;
    }
    const alone = maskMarks(grey, other.strokes, second.value);
    const first = await findLattice(alone, own.strokes, { ...whole, ...sign });
    if (!first.ok) {
      failure = explain(first.failure, own, other);
      continue;
    }
    const fits = [first.value, second.value] as const;
    const swapped = await whySwapped(rest, alone, own, other, fits);
    if (swapped !== undefined) return swapped;
    return judgePair(programs, k === 0 ? fits : [fits[1], fits[0]]);
  }
  return { ok: false, failure: failure! };
}

function judgePair(programs: Programs, fits: LatticePair['fits']): Outcome<LatticePair> {
  const open = programs.filter((_, k) => !fits[k].certain);
  if (open.length > 0) {
    return failed(
      'GRID_AMBIGUOUS',
      `which way round the marks of ${open.map(({ name }) => name).join(' and ')} lie cannot be told`,
      { hint: 'let the photo show the origin marks of both programs' },
    );
  }
  const between = placementBetween(fits[0].map, fits[1].map, describeGrid(programs[1].strokes)!);
  if (between === undefined || between.unlike > MOST_UNLIKE) {
    return failed(
      'GRID_AMBIGUOUS',
      `two grids are seen, but those of ${programs.map(({ name }) => name).join(' and ')} do not fit on one board`,
      {
        hint: 'check that both programs marked this board, in these units',
        ...(between === undefined ? {} : { figures: { unlike: between.unlike } }),
      },
    );
  }
  return success({ fits, between });
}

/** Places that differ by more than this are not the same; gaps. */
const SAME_PLACE = 0.2;

function isSamePlace(a: ImageMap, b: ImageMap, { xs, ys, pitchMm }: ProgramGrid): boolean {
  return [xs[0], xs[xs.length - 1]].every((x) =>
    [ys[0], ys[ys.length - 1]].every((y) => {
      const [X, Y] = commandedFromImage(a, imageFromCommanded(b, x, y));
      return Math.hypot(X - x, Y - y) < SAME_PLACE * Math.min(...pitchMm);
    }),
  );
}

/** Where both programs have as many lines, either may have made either set: then their other marks must tell. */
async function whySwapped(
  rest: GreyImage,
  alone: GreyImage,
  own: NamedMarks,
  other: NamedMarks,
  [first, second]: LatticePair['fits'],
): Promise<ReturnType<typeof failed> | undefined> {
  if (isSame(own.strokes, other.strokes) || !isLookAlike(own.strokes, other.strokes)) {
    return undefined;
  }
  const ownOnOther = await findLattice(rest, own.strokes);
  const otherOnOwn = await findLattice(alone, other.strokes);
  if (!ownOnOther.ok || !otherOnOwn.ok) return undefined;
  const odds = first.logOdds + second.logOdds - ownOnOther.value.logOdds - otherOnOwn.value.logOdds;
  if (odds > CLEAR_ODDS) return undefined;
  return failed(
    'GRID_AMBIGUOUS',
    `two grids are seen, and which of them ${own.name} marked and which ${other.name} cannot be told`,
    {
      hint: 'mark the two with different origin marks, or with another number of lines',
      figures: { logOdds: odds },
    },
  );
}

/** The same marks at the same places: which is which changes nothing. */
function isSame(a: readonly Stroke[], b: readonly Stroke[]): boolean {
  return (
    a.length === b.length &&
    a.every((stroke, i) =>
      ([0, 1] as const).every(
        (k) => stroke.fromMm[k] === b[i].fromMm[k] && stroke.toMm[k] === b[i].toMm[k],
      ),
    )
  );
}

function isLookAlike(a: readonly Stroke[], b: readonly Stroke[]): boolean {
  const [first, second] = [a, b].map((strokes) => describeGrid(strokes));
  if (first === undefined || second === undefined) return false;
  const sides = [first.xs.length, first.ys.length];
  const others = [second.xs.length, second.ys.length];
  return sides.every((n, k) => n === others[k]) || sides.every((n, k) => n === others[1 - k]);
}

const SHOW_BOTH =
  'photograph both grids whole, from above; check that both programs marked this board';

function explain(failure: Failure, missing: NamedMarks, found?: NamedMarks): Failure {
  const { code, message, figures, cause } = failure;
  const hint = code === 'GRID_NOT_FOUND' ? SHOW_BOTH : failure.hint;
  const words =
    found === undefined
      ? `${missing.name}: ${message}`
      : `the marks of ${found.name} are seen; ${missing.name}: ${message}`;
  return failed(code, words, { ...(hint === undefined ? {} : { hint }), figures, cause }).failure;
}
