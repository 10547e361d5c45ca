/** Whether a placement explains the picture, and in words why not. */

import { goesOnBetween, standsOut } from './faint-family.js';
import type { ImageMap } from './image-map.js';
import type { Evidence } from './lattice-evidence.js';
import { lookBeyond, type Side, shareAt } from './look-beyond.js';
import { aspectOf, pitchOf, scatterOf } from './measure-placement.js';
import { goesOnToEdge, jointOdds, usualJoint, WINDOW_BEYOND, weighJoint } from './outer-lines.js';
import { probeUnit, type Sight } from './probe-unit.js';
import { MIDWAY, moveUnit, type ProgramGrid } from './program-grid.js';
import { shareSeen } from './tally.js';

export interface Verdict {
  readonly accepted: boolean;
  /** Set where lines were counted, and not as many as the program has. */
  readonly kind?: 'counted';
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
/** A family whose marks are this much commoner than between its lines needs no closer look. */
const CLEAR_CONTRAST = 0.5;
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
/** Crossing lines go on to the picture's edge at least this share as well as between inner lines. */
const JOINED = 0.5;
/** Strokes that run on farther than this past the last line, in gaps, leave too little to look at. */
const MOST_OVERRUN = 0.6;
/** Log odds from which crossing lines do, or do not, lead to a line. */
const JOINT_ODDS = 2;
/** Where lines of a finer lattice would lie, by symmetry in the lower half of a gap. */
const FRACTIONS = [1 / 3, 1 / 4, 1 / 5, 2 / 5];
/** Half-width of that search, share of the gap; and about how many places per fraction. */
const FRACTION_WINDOW = 0.04;
const FRACTION_UNITS = 150;
/** Closer to the grid's own line than this, its own width is seen; px of the reduced picture. */
const LEAST_APART_PX = 6;
/** Finer lines between the grid's own have less than this share of their strength. */
const MOST_EQUAL = 0.7;
/** Lines that clearly show, as share of all: a program of twice the lines would reach one half. */
const LEAST_LINES = 0.75;

export function judgePlacement(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
): Verdict {
  const unlike = whyNoLattice(evidence);
  const faint = unlike === undefined ? undefined : faintFamily(sight, map, grid, evidence);
  if (unlike !== undefined && faint === undefined) return refuse(unlike);
  const aspect = aspectOf(map);
  if (Math.abs(Math.log(aspect)) > WORST_ASPECT) {
    const ratio = aspect.toFixed(2);
    return refuse(`lines seen, but the ratio of their spacings is ${ratio} times the program's`);
  }
  if (!keepsToLines(map, grid, evidence)) return refuse('lines seen, but not at its spacings');
  const counts = [0, 1].map((f) => countLines(sight, map, grid, evidence, f as 0 | 1, faint));
  const wanted = [grid.xs.length, grid.ys.length];
  if (counts.some((c, f) => c.first !== 0 || c.last !== wanted[f] - 1)) {
    const seen = counts.map((c) => c.last - c.first + 1);
    return {
      ...refuse(`${seen[0]} × ${seen[1]} lines seen, the program has ${wanted[0]} × ${wanted[1]}`),
      kind: 'counted',
    };
  }
  for (const f of [0, 1] as const) {
    if (hasEqualBetween(sight, map, grid, evidence, f)) {
      return refuse(`more lines seen between those that would be the program's`);
    }
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
  const [alongY, alongX] = plainFamilies(evidence);
  if (!alongY && !alongX) return 'no lines that fit its spacing';
  if (!alongY || !alongX) return 'lines that fit its spacing in one direction only';
  return undefined;
}

function plainFamilies({ familyShare, betweenShare }: Evidence): boolean[] {
  return familyShare.map(
    (share, f) =>
      share >= LEAST_SHARE &&
      share - betweenShare[f] >= LEAST_CONTRAST &&
      betweenShare[f] <= MOST_BETWEEN * share,
  );
}

/** True where one family of lines shows plainly, and the other one not. */
export function isPlainOneWay(evidence: Evidence): boolean {
  const [x, y] = plainFamilies(evidence);
  return x !== y;
}

/** The family that shows less than the plain other one; undefined where none is plain, or both are clearly. */
export function fainterFamily(evidence: Evidence): 0 | 1 | undefined {
  const [x, y] = evidence.familyShare.map((share, f) => share - evidence.betweenShare[f]);
  const family = x < y ? 0 : 1;
  return plainFamilies(evidence)[1 - family] && Math.min(x, y) < CLEAR_CONTRAST
    ? family
    : undefined;
}

/** The family whose lines show only all together, among grain, where the other one is plain. */
function faintFamily(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
): 0 | 1 | undefined {
  if (!isPlainOneWay(evidence)) return undefined;
  const family = plainFamilies(evidence)[0] ? 1 : 0;
  return standsOut(sight, map, grid, family) ? family : undefined;
}

/** True where the marks keep to their lines as marks of these spacings do. */
export function keepsToLines(map: ImageMap, grid: ProgramGrid, evidence: Evidence): boolean {
  return scatterOf(map, evidence.sightings) / pitchOf(map, grid) <= MOST_SCATTER;
}

function refuse(reason: string): Verdict {
  return { accepted: false, reason };
}

/**
 * Lines as strong as the grid's own at thirds, quarters or fifths of its gaps: it is a lattice of more
 * lines, of which every third, fourth or fifth was taken. Midway between lines is looked at elsewhere.
 */
function hasEqualBetween(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
  family: 0 | 1,
): boolean {
  const lines = family === 0 ? grid.xs : grid.ys;
  const units = grid.units.filter((unit) => unit.family === family && unit.line + 1 < lines.length);
  const stride = Math.max(1, Math.floor(units.length / FRACTION_UNITS));
  const chosen = units.filter((_, i) => i % stride === 0);
  const strengths = (share: number) =>
    chosen.flatMap((unit) => {
      const gap = lines[unit.line + 1] - lines[unit.line];
      const moved = moveUnit(unit, family, share * gap);
      const probe = probeUnit(sight, map, grid, moved, FRACTION_WINDOW);
      return probe.inside ? [probe.strength] : [];
    });
  const own = strengths(0).sort((a, b) => a - b);
  const limit = Math.max(evidence.limits[family], MOST_EQUAL * (own[own.length >> 1] ?? 0));
  const shareOver = (all: readonly number[]) =>
    all.filter((strength) => strength >= limit).length / Math.max(1, all.length);
  // Texture passes for lines anywhere; finer lines at thirds or fifths leave the middle free. So does another
  // program's lattice leave the quarters, but there finer lines may lie.
  const texture = grid.freeShare === MIDWAY ? shareOver(strengths(0.5)) : 0;
  const most = MOST_BETWEEN * shareOver(own) + Math.min(0.5, texture);
  const gapPx = pitchOf(map, grid);
  return FRACTIONS.some(
    (share) =>
      share * gapPx > LEAST_APART_PX &&
      // The other flank of a wide mark lies to one side only.
      [share, 1 - share].every((s) => shareOver(strengths(s)) > most),
  );
}

/**
 * First and last line index that shows, with lines outside the program's own counted on.
 *
 * @param faint family that does not show line by line: it ends where the lines of the other end, and
 * nothing tells whether it leads to those.
 */
function countLines(
  sight: Sight,
  map: ImageMap,
  grid: ProgramGrid,
  evidence: Evidence,
  family: 0 | 1,
  faint: 0 | 1 | undefined,
): { first: number; last: number; shown: number } {
  const isFaint = family === faint;
  const isCrossFaint = 1 - family === faint;
  const positions = family === 0 ? grid.xs : grid.ys;
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
    if (Number.isNaN(own)) return true;
    if (!isCrossFaint || (k !== 0 && k !== shares.length - 1))
      return own > leastGap || isCrossFaint;
    return isCrossedBetween(positions[k], positions[k === 0 ? 1 : k - 1]);
  };
  const shows = (k: number) =>
    (isFaint || Number.isNaN(shares[k]) || shares[k] >= limit) && isReached(k);
  const isCrossedBetween = (a: number, b: number) =>
    goesOnBetween(sight, map, grid, family === 0 ? 1 : 0, Math.min(a, b), Math.max(a, b));
  const joints = new Joints(sight, map, grid, evidence, family);
  // Lines outside the picture are taken on trust, the outermost one in it is not.
  let first = 0;
  let last = shares.length - 1;
  while (first < last && Number.isNaN(shares[first])) first++;
  while (last > first && Number.isNaN(shares[last])) last--;
  const [low0, high0] = [first, last];
  while (first < last && !(shows(first) && joints.isJoined(first, 1))) first++;
  while (last > first && !(shows(last) && joints.isJoined(last, -1))) last--;
  if (first === low0 && (low0 === 0 || joints.leavesPicture(low0, -1))) first = 0;
  if (last === high0 && (high0 === shares.length - 1 || joints.leavesPicture(high0, 1))) {
    last = shares.length - 1;
  }
  let shown = 0;
  for (let k = 0; k < shares.length; k++) if (shows(k)) shown++;
  const [low, high] = family === 0 ? ['left', 'right'] : ['lower', 'upper'];
  const usualStub = evidence.familyShare[1 - family];
  // A frame beside the grid has no crossing lines that lead to it; a further grid line has. It shows
  // about as well as the program's own worst lines do: on an open board that tells it from grain.
  const leastLine = Math.max(FURTHER_SHARE * usual, WORST_LINE * least(shares), off + 0.1);
  const leastStub = Math.max(FURTHER_SHARE * usualStub, WORST_LINE * least(gaps));
  const isCrossedBeyond = (side: Side) => {
    // Between a third and what the worst of the program's own show, they are summed up.
    const isOpen = side.stub >= FURTHER_SHARE * usualStub && side.stub < leastStub;
    if (!isCrossFaint && !isOpen) return side.stub >= leastStub;
    const n = positions.length - 1;
    const [edge, inner] = side.name === low ? [0, 1] : [n, n - 1];
    return isCrossedBetween(positions[edge], 2 * positions[edge] - positions[inner]);
  };
  const goesOn = (side: Side) => (isFaint || side.parallel >= leastLine) && isCrossedBeyond(side);
  const far = lookBeyond(sight, map, grid, BEYOND_WINDOW, evidence.limits, BEYOND_GAPS);
  for (const [s, side] of evidence.sides.entries()) {
    if (side.name !== low && side.name !== high) continue;
    const sense = side.name === low ? -1 : 1;
    if (!goesOn(side) && !goesOn(far[s]) && !joints.isFollowed(sense, leastLine)) continue;
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

/** How the outer lines of one family are joined to the rest; see `weighJoint`. */
class Joints {
  private readonly lines: Float64Array;
  private usual: number | undefined;

  constructor(
    private readonly sight: Sight,
    private readonly map: ImageMap,
    private readonly grid: ProgramGrid,
    private readonly evidence: Evidence,
    private readonly family: 0 | 1,
  ) {
    this.lines = family === 0 ? grid.xs : grid.ys;
  }

  /** A line of the grid: crossing lines lead to it from its neighbour `inwards`. */
  isJoined(k: number, inwards: 1 | -1): boolean {
    const joint = this.joint(this.lines[k], this.lines[k + inwards]);
    return jointOdds(joint, this.usually()) > -JOINT_ODDS;
  }

  /** The line that would come next outside shows, and crossing lines lead to it. */
  isFollowed(sense: 1 | -1, leastLine: number): boolean {
    const edge = sense < 0 ? 0 : this.lines.length - 1;
    const gap = this.lines[edge] - this.lines[edge - sense];
    const end = this.strokesEnd(edge, sense);
    // Commanded strokes that run on past the last line lead to nothing: what follows them counts.
    if (Math.abs(end - this.lines[edge]) > MOST_OVERRUN * Math.abs(gap)) return false;
    const joint = this.joint(this.lines[edge] + gap, end, WINDOW_BEYOND);
    return shareSeen(joint.line) >= leastLine && jointOdds(joint, this.usually()) > JOINT_ODDS;
  }

  /** Crossing lines go on from the outermost line in the picture to the picture's edge. */
  leavesPicture(k: number, sense: 1 | -1): boolean {
    const gap = this.lines[k + sense] - this.lines[k];
    const { sight, map, grid, family, evidence } = this;
    const on = goesOnToEdge(sight, map, grid, family, this.lines[k], gap, evidence.limits);
    return on === undefined || on >= JOINED * this.usually();
  }

  /**
   * How far the crossing lines' strokes reach outwards; mm. Of an end of some mm there is no unit, and yet
   * half the way to a board's edge one gap away looked marked by it: the edge was counted as a line.
   */
  private strokesEnd(edge: number, sense: 1 | -1): number {
    const [low, high] = this.grid.endsMm[1 - this.family];
    const line = this.lines[edge];
    return sense < 0 ? Math.min(line, low) : Math.max(line, high);
  }

  private joint(at: number, from: number, window?: number) {
    const { sight, map, grid, family, evidence } = this;
    return weighJoint(sight, map, grid, family, at, from, evidence.limits, window);
  }

  private usually(): number {
    const { sight, map, grid, family, evidence } = this;
    this.usual ??= usualJoint(sight, map, grid, family, evidence.limits);
    return this.usual;
  }
}

function least(shares: Float64Array): number {
  return Math.min(...shares.filter((share) => !Number.isNaN(share)));
}
