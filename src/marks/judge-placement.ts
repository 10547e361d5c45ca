/** Whether a placement explains the picture, and in words why not. */

import type { ImageMap } from './image-map.js';
import type { Evidence } from './lattice-evidence.js';
import { lookBeyond, type Side, shareAt } from './look-beyond.js';
import { aspectOf, pitchOf, scatterOf } from './measure-placement.js';
import type { Sight } from './probe-unit.js';
import type { ProgramGrid } from './program-grid.js';

export interface Verdict {
  readonly accepted: boolean;
  /** Empty where accepted. */
  readonly reason: string;
}

/**
 * A program's pitches may be given wrongly by some per cent and a tilted view tells the ratio to about a
 * tenth; a placement that needs this much (log of the ratio) is another grid.
 */
export const WORST_ASPECT = 0.4;
/**
 * Marks scatter about their lines by less than this share of the gap; a warped fit of another grid
 * scatters evenly over the window of 0.07 (0.05 by this measure).
 */
const MOST_SCATTER = 0.038;
/** Half covered grids keep about this share of their marks in sight. */
const LEAST_SHARE = 0.3;
/** Marks on the lines must be this much commoner than between them. */
const LEAST_CONTRAST = 0.25;
/** More marks than this between the lines, against those on them, are lines of a finer grid. */
const MOST_BETWEEN = 0.5;
/** A further line outside shows at least this share of the usual marks, along and across. */
const FURTHER_SHARE = 0.35;
/** A further line shows at least this share of what the worst of the program's own lines shows. */
const WORST_LINE = 0.6;
/** How far outside further lines are looked for where the next one may be covered; gaps. */
const BEYOND_GAPS = 3;
/** Half-width of that search; share of the gap. The map is extended, so a little wider. */
const BEYOND_WINDOW = 0.1;
/** An outer line with less than this share of the usual line's marks is not there. */
const OUTER_SHARE = 0.3;
/** Lines that clearly show, as share of all: a program of twice the lines would reach one half. */
const LEAST_LINES = 0.75;

export function judgePlacement(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
): Verdict {
  const unlike = whyNoLattice(evidence);
  if (unlike !== undefined) return refuse(unlike);
  const aspect = aspectOf(map);
  if (Math.abs(Math.log(aspect)) > WORST_ASPECT) {
    const ratio = aspect.toFixed(2);
    return refuse(`lines seen, but the ratio of their spacings is ${ratio} times the program's`);
  }
  if (!keepsToLines(map, grid, evidence)) return refuse('lines seen, but not at its spacings');
  const counts = [0, 1].map((f) => countLines(sight, map, grid, evidence, f as 0 | 1));
  const wanted = [grid.xs.length, grid.ys.length];
  if (counts.some((c, f) => c.first !== 0 || c.last !== wanted[f] - 1)) {
    const seen = counts.map((c) => c.last - c.first + 1);
    return refuse(
      `${seen[0]} × ${seen[1]} lines seen, the program has ${wanted[0]} × ${wanted[1]}`,
    );
  }
  for (const f of [0, 1]) {
    if (counts[f].shown < LEAST_LINES * wanted[f]) {
      return refuse(`only ${counts[f].shown} of ${wanted[f]} lines show along ${f ? 'X' : 'Y'}`);
    }
  }
  return { accepted: true, reason: '' };
}

/** Why the marks seen at the lines, and not between them, make no lattice; undefined where they do. */
export function whyNoLattice(evidence: Evidence): string | undefined {
  const [alongY, alongX] = evidence.familyShare.map(
    (share, f) =>
      share >= LEAST_SHARE &&
      share - evidence.betweenShare[f] >= LEAST_CONTRAST &&
      evidence.betweenShare[f] <= MOST_BETWEEN * share,
  );
  if (!alongY && !alongX) return 'no lines that fit its spacing';
  if (!alongY || !alongX) return 'lines that fit its spacing in one direction only';
  return undefined;
}

/** True where the marks keep to their lines as marks of these spacings do. */
export function keepsToLines(map: ImageMap, grid: ProgramGrid, evidence: Evidence): boolean {
  return scatterOf(map, evidence.sightings) / pitchOf(map, grid) <= MOST_SCATTER;
}

function refuse(reason: string): Verdict {
  return { accepted: false, reason };
}

/** First and last line index that shows, with lines outside the program's own counted on. */
function countLines(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
  family: 0 | 1,
): { first: number; last: number; shown: number } {
  const shares = evidence.lineShare[family];
  const inside = [...shares].filter((share) => !Number.isNaN(share)).sort((a, b) => a - b);
  const usual = inside[Math.floor(0.6 * inside.length)] ?? 0;
  const off = evidence.betweenShare[family];
  const limit = Math.max(OUTER_SHARE * usual, off + 0.1);
  const gaps = evidence.gapShare[family];
  const offRung = evidence.betweenShare[1 - family];
  const leastGap = Math.max(FURTHER_SHARE * evidence.familyShare[1 - family], offRung + 0.1);
  const isReached = (k: number) => {
    const own = k === 0 ? gaps[0] : k === shares.length - 1 ? gaps[k - 1] : 1;
    return Number.isNaN(own) || own > leastGap;
  };
  const shows = (k: number) => (Number.isNaN(shares[k]) || shares[k] >= limit) && isReached(k);
  let first = 0;
  let last = shares.length - 1;
  while (first < last && !shows(first)) first++;
  while (last > first && !shows(last)) last--;
  let shown = 0;
  for (let k = 0; k < shares.length; k++) if (shows(k)) shown++;
  const positions = family === 0 ? grid.xs : grid.ys;
  const [low, high] = family === 0 ? ['left', 'right'] : ['lower', 'upper'];
  const usualStub = evidence.familyShare[1 - family];
  // A frame beside the grid has no crossing lines that lead to it; a further grid line has. It shows
  // about as well as the program's own worst lines do: on an open board that tells it from grain.
  const leastLine = Math.max(FURTHER_SHARE * usual, WORST_LINE * least(shares), off + 0.1);
  const leastStub = Math.max(FURTHER_SHARE * usualStub, WORST_LINE * least(gaps));
  const goesOn = (side: Side) => side.parallel >= leastLine && side.stub >= leastStub;
  const far = lookBeyond(sight, map, grid, BEYOND_WINDOW, evidence.limits, BEYOND_GAPS);
  for (const [s, side] of evidence.sides.entries()) {
    if (side.name !== low && side.name !== high) continue;
    if (!goesOn(side) && !goesOn(far[s])) continue;
    const sense = side.name === low ? -1 : 1;
    const edge = positions[sense < 0 ? 0 : positions.length - 1];
    const gap = sense * grid.pitchMm[family];
    let more = 1;
    while (
      more < 12 &&
      shareAt(sight, map, grid, family, edge + (more + 1) * gap, evidence.limits[family]) >
        0.6 * usual
    ) {
      more++;
    }
    if (sense < 0 && first === 0) first = -more;
    if (sense > 0 && last === shares.length - 1) last += more;
  }
  return { first, last, shown };
}

function least(shares: Float64Array): number {
  return Math.min(...shares.filter((share) => !Number.isNaN(share)));
}
