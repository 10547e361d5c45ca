/** The cheapest set of photos, with or without a tape, that reaches a wanted uncertainty. */

import type {
  ForecastName,
  ForecastQuantity,
  ForecastWant,
} from '../../shared/schemas/forecast.js';
import type { NetworkEvidence } from '../network/index.js';
import { foretellDraw, type PlannedNetwork } from './foretell-set.js';
import { countDraws, type PhotoGroup } from './photo-set.js';
import { thinGrid } from './thin-grid.js';

export type Asked = ForecastWant['asked'][number];
export type Tried = ForecastWant['tried'][number];

/** Lengths that could be taped, and what stands for them in the network. */
export interface TapeChoice {
  readonly lengths: readonly string[];
  readonly evidence: readonly NetworkEvidence[];
}

/** What no photo tells without a length. */
export const NEEDS_LENGTH: readonly ForecastName[] = ['scale.x', 'scale.y'];

export interface Search {
  readonly want: ForecastWant;
  /** The set that was found; of none, the strongest. */
  readonly photos: readonly PhotoGroup[];
  readonly evidence: readonly NetworkEvidence[];
}

/** Numbers of photos from above, each a quarter turn of the phone from the last. */
const COUNTS = [1, 2, 3, 4, 6, 8, 12, 16];
/** Of a turned board the first photo tells nearly all; each has a bend of its own, which takes time to search. */
const COUNTS_TURNED = [1, 2, 4];
const RAD_PER_DEGREE = Math.PI / 180;
/**
 * By eye, and with a mirror on the board in which the lens sees itself. Minutes in all, per photo and for
 * a length: engineering choices, they only set the order.
 */
const TILTS = [
  { tiltRad: 2 * RAD_PER_DEGREE, minutes: 0, minutesPerPhoto: 1 },
  { tiltRad: 1 * RAD_PER_DEGREE, minutes: 3, minutesPerPhoto: 2 },
] as const;
const MINUTES_PER_LENGTH = 3;
/** For the search alone; what it finds is looked at once more with what the table shows. */
const SEARCH_SEGMENTS = 250;
/** One unlucky way of holding the phone is forgiven. */
const MISSES_FORGIVEN = 1;

/**
 * Tries the fixed list in order of cost. A set reaches what is wanted where that is measured with a U not
 * above it in all but one of the ways in which the phone may be held.
 *
 * @param networkOf the network for a number of photos; its evidence is what was given: it always counts.
 * @param tapes none to be taped first, then more and more.
 */
export function searchSets(
  networkOf: (photos: number) => PlannedNetwork,
  tapes: readonly TapeChoice[],
  asked: readonly Asked[],
): Search {
  const base = networkOf(1);
  const thin = { ...base, ...thinGrid(base, SEARCH_SEGMENTS) };
  const quickTry = ({ photos, tape }: Candidate) =>
    tryOut({ ...thin, evidence: [...base.evidence, ...tape.evidence] }, photos, asked);

  const counts = base.placements.length > 1 ? COUNTS_TURNED : COUNTS;
  const strongest = tapes.map((tape) => strongestWith(counts, tape));
  const last = strongest[strongest.length - 1];
  if (!quickTry(last).reached) return giveUp(networkOf, last, asked);
  const useful = strongest.filter((one) => one === last || quickTry(one).reached);

  const tried: Tried[] = [];
  /** Photos that fall short in something that no tape can mend. */
  const hopeless = new Set<string>();
  for (const candidate of listCandidates(
    counts,
    useful.map(({ tape }) => tape),
  )) {
    const { photos, tape, minutes } = candidate;
    if (hopeless.has(JSON.stringify(photos))) continue;
    const network = networkOf(photos[0].count);
    const evidence = [...network.evidence, ...tape.evidence];
    const quick = quickTry(candidate);
    const found = quick.reached ? tryOut({ ...network, evidence }, photos, asked) : quick;
    tried.push({ photos: [...photos], lengths: [...tape.lengths], minutes, ...found });
    if (found.reached) {
      return { want: { asked: [...asked], tried, cheapest: tried.length - 1 }, photos, evidence };
    }
    const short = asked.some(({ what, U }, i) => {
      const reached = found.U[i];
      return !NEEDS_LENGTH.includes(what) && (reached === null || reached > U);
    });
    if (short) hopeless.add(JSON.stringify(photos));
  }
  // The strongest reached it with fewer segments by a hair only.
  return giveUp(networkOf, last, asked);
}

interface Candidate {
  readonly photos: readonly PhotoGroup[];
  readonly tape: TapeChoice;
  readonly minutes: number;
}

function candidate(
  count: number,
  { tiltRad, minutes, minutesPerPhoto }: (typeof TILTS)[number],
  tape: TapeChoice,
): Candidate {
  return {
    photos: [{ kind: 'overhead', count, tiltRad }],
    tape,
    minutes: minutes + minutesPerPhoto * count + MINUTES_PER_LENGTH * tape.lengths.length,
  };
}

function strongestWith(counts: readonly number[], tape: TapeChoice): Candidate {
  return candidate(counts[counts.length - 1], TILTS[TILTS.length - 1], tape);
}

function listCandidates(counts: readonly number[], tapes: readonly TapeChoice[]): Candidate[] {
  return counts
    .flatMap((count) => TILTS.flatMap((tilt) => tapes.map((tape) => candidate(count, tilt, tape))))
    .sort((a, b) => a.minutes - b.minutes);
}

/** Ends as soon as more draws than forgiven have missed. */
function tryOut(
  network: PlannedNetwork,
  photos: readonly PhotoGroup[],
  asked: readonly Asked[],
): Pick<Tried, 'reached' | 'U'> {
  const met: number[][] = asked.map(() => []);
  let missed = 0;
  for (let draw = 0; draw < countDraws(photos) && missed <= MISSES_FORGIVEN; draw++) {
    const one = foretellDraw(network, photos, draw);
    const sizes = asked.map(({ what }) => {
      const quantity = one?.quantities[what];
      return quantity?.state === 'measured' ? quantity.U : Number.POSITIVE_INFINITY;
    });
    sizes.forEach((size, i) => {
      met[i].push(size);
    });
    if (asked.some(({ U }, i) => sizes[i] > U)) missed++;
  }
  const U = met.map((sizes) => {
    const sorted = sizes.sort((a, b) => b - a);
    const size = sorted[Math.min(MISSES_FORGIVEN, sorted.length - 1)];
    return Number.isFinite(size) ? size : null;
  });
  return { reached: missed <= MISSES_FORGIVEN, U };
}

function giveUp(
  networkOf: (photos: number) => PlannedNetwork,
  { photos, tape, minutes }: Candidate,
  asked: readonly Asked[],
): Search {
  const bare = networkOf(photos[0].count);
  const evidence = [...bare.evidence, ...tape.evidence];
  const network = { ...bare, evidence };
  const tried = [
    { photos: [...photos], lengths: [...tape.lengths], minutes, ...tryOut(network, photos, asked) },
  ];
  return { want: { asked: [...asked], tried }, photos, evidence };
}

/** Of the quantity that is farthest from what is wanted: the largest part of its variance. */
export function findLimit(
  quantities: readonly ForecastQuantity[],
  asked: readonly Asked[],
): ForecastWant['limit'] {
  const [worst] = asked
    .flatMap(({ what, U }) => {
      const quantity = quantities.find((one) => one.what === what);
      return quantity === undefined ? [] : [{ quantity, excess: excessOf(quantity, U) }];
    })
    .sort((a, b) => b.excess - a.excess);
  if (worst === undefined) return undefined;
  const { what, unlucky, share, reason } = worst.quantity;
  const [source, part] = largestShare(share) ?? [];
  return {
    what,
    ...(unlucky.U === undefined ? {} : { U: unlucky.U }),
    ...(source === undefined ? {} : { source, share: part }),
    ...(reason === undefined ? {} : { reason }),
  };
}

function excessOf({ unlucky }: ForecastQuantity, wanted: number): number {
  return unlucky.state === 'measured' && unlucky.U !== undefined
    ? unlucky.U / wanted
    : Number.POSITIVE_INFINITY;
}

function largestShare(
  share: ForecastQuantity['share'],
): readonly [NonNullable<NonNullable<ForecastWant['limit']>['source']>, number] | undefined {
  if (share === undefined) return undefined;
  const sources = ['photos', 'marks', 'evidence', 'camera'] as const;
  return sources
    .map((source) => [source, share[source]] as const)
    .reduce((most, one) => (one[1] > most[1] ? one : most));
}
