/**
 * Two pencils of lines (families with a common vanishing point) that cross in the same part of the
 * picture, with the radial distortion that makes their members straight.
 */

import type { Segment } from './ridge-segments.js';

/**
 * Lines p with (n·p) / (1 - w e·p) = constant, e = (cos θ, sin θ), n = (-sin θ, cos θ), in
 * coordinates centred on the picture and divided by half its diagonal. w = 0: parallel lines.
 */
export interface Pencil {
  readonly theta: number;
  readonly w: number;
}

export interface PencilPair {
  readonly first: Pencil;
  readonly second: Pencil;
  /** Straightening: p (1 + kappa r²). */
  readonly kappa: number;
  /** Length-weighted evidence that both families share a part of the picture. */
  readonly support: number;
  /** Per family: places on its segments, n×3 [x, y, weight], normalised coordinates. */
  readonly places: readonly [Float64Array, Float64Array];
  /** Per family and place: how much bolder its segment is than strength alone tells; at least 1. */
  readonly boldness: readonly [Float64Array, Float64Array];
}

/** Half-width of a pencil's kernel; rad. Lens distortion bends outer lines by about 2°. */
const TOLERANCE = (3.5 * Math.PI) / 180;
/** Convergences tried, per half diagonal: a camera tilted by 50° with a usual lens reaches 0.9. */
const CONVERGENCES = Array.from({ length: 21 }, (_, i) => (i - 10) / 10);
const ANGLES = 72;
/** More segments than this change no vote. */
const VOTERS = 1500;
const CANDIDATES = 5;
/** Distance of the places that stand for a segment; px. */
const PLACE_PX = 8;
/** Cells per longest side in which both families must be present. */
const CELLS = 14;

interface Voter {
  readonly x: number;
  readonly y: number;
  readonly dx: number;
  readonly dy: number;
  readonly half: number;
  readonly weight: number;
  readonly boldness: number;
}

/** @returns pairs of pencils, best supported first; possibly none. */
export function findPencils(
  segments: readonly Segment[],
  width: number,
  height: number,
): PencilPair[] {
  const radius = Math.hypot(width, height) / 2;
  const voters = segments.slice(0, 4 * VOTERS).map((segment): Voter => {
    const dx = segment.x2 - segment.x1;
    const dy = segment.y2 - segment.y1;
    return {
      x: ((segment.x1 + segment.x2) / 2 - (width - 1) / 2) / radius,
      y: ((segment.y1 + segment.y2) / 2 - (height - 1) / 2) / radius,
      dx: dx / segment.lengthPx,
      dy: dy / segment.lengthPx,
      half: segment.lengthPx / 2 / radius,
      weight: segment.weight,
      boldness: segment.boldness,
    };
  });
  const pencils = votePencils(voters);
  const pairs: PencilPair[] = [];
  for (let i = 0; i < pencils.length; i++) {
    for (let j = i + 1; j < pencils.length; j++) {
      const pair = joinPencils(voters, pencils[i], pencils[j], width, height, radius);
      if (pair !== undefined) pairs.push(pair);
    }
  }
  pairs.sort((a, b) => b.support - a.support);
  return pairs.filter((pair, i) => !pairs.slice(0, i).some((other) => samePair(pair, other)));
}

/** Candidates often converge on the same two families. */
function samePair(a: PencilPair, b: PencilPair): boolean {
  return (
    (samePencil(a.first, b.first) && samePencil(a.second, b.second)) ||
    (samePencil(a.first, b.second) && samePencil(a.second, b.first))
  );
}

function samePencil(a: Pencil, b: Pencil): boolean {
  const turn = a.theta - b.theta;
  return Math.abs(Math.sin(turn)) < 0.05 && Math.abs(a.w - Math.cos(turn) * b.w) < 0.15;
}

function votePencils(voters: readonly Voter[]): Pencil[] {
  let rest = voters.slice(0, VOTERS);
  const pencils: Pencil[] = [];
  for (let round = 0; round < CANDIDATES && rest.length > 4; round++) {
    let best: Pencil = { theta: 0, w: 0 };
    let bestVote = 0;
    const terms = termsOf(rest);
    for (let a = 0; a < ANGLES; a++) {
      for (const w of CONVERGENCES) {
        const pencil = { theta: (a * Math.PI) / ANGLES, w };
        const vote = sumVotes(terms, pencil, TOLERANCE);
        if (vote > bestVote) {
          bestVote = vote;
          best = pencil;
        }
      }
    }
    if (bestVote === 0) break;
    best = improvePencil(rest, best, TOLERANCE);
    pencils.push(best);
    rest = rest.filter((voter) => misfit(voter, best) > TOLERANCE);
  }
  return pencils;
}

function improvePencil(voters: readonly Voter[], start: Pencil, tolerance: number): Pencil {
  const terms = termsOf(voters);
  let best = start;
  let bestVote = sumVotes(terms, best, tolerance);
  let dTheta = Math.PI / ANGLES / 2;
  let dW = 0.05;
  for (let level = 0; level < 5; level++) {
    for (let again = 0; again < 4; again++) {
      const from = best;
      for (const [a, b] of [
        [1, 0],
        [-1, 0],
        [0, 1],
        [0, -1],
        [1, 1],
        [-1, -1],
        [1, -1],
        [-1, 1],
      ]) {
        const trial = { theta: from.theta + a * dTheta, w: from.w + b * dW };
        const vote = sumVotes(terms, trial, tolerance);
        if (vote > bestVote) {
          bestVote = vote;
          best = trial;
        }
      }
      if (best === from) break;
    }
    dTheta /= 2;
    dW /= 2;
  }
  return best;
}

/** Sine of the angle between a segment and the pencil's line through its middle. */
function misfit(voter: Voter, pencil: Pencil): number {
  const dx = Math.cos(pencil.theta) - pencil.w * voter.x;
  const dy = Math.sin(pencil.theta) - pencil.w * voter.y;
  return Math.abs(voter.dx * dy - voter.dy * dx) / Math.hypot(dx, dy);
}

/** Of each voter, side by side: place, direction, weight. */
function termsOf(voters: readonly Voter[]): Float64Array {
  const terms = new Float64Array(TERMS * voters.length);
  voters.forEach(({ x, y, dx, dy, weight }, i) => {
    terms.set([x, y, dx, dy, weight], TERMS * i);
  });
  return terms;
}

const TERMS = 5;

function sumVotes(terms: Float64Array, { theta, w }: Pencil, tolerance: number): number {
  const ex = Math.cos(theta);
  const ey = Math.sin(theta);
  const limit = tolerance * tolerance;
  let sum = 0;
  for (let i = 0; i < terms.length; i += TERMS) {
    const dx = ex - w * terms[i];
    const dy = ey - w * terms[i + 1];
    const cross = terms[i + 2] * dy - terms[i + 3] * dx;
    const square = cross * cross;
    const most = (dx * dx + dy * dy) * limit;
    if (square < most) sum += terms[i + 4] * (1 - square / most);
  }
  return sum;
}

/** Weighs each family's segments by the other family's presence around them. */
function joinPencils(
  voters: readonly Voter[],
  one: Pencil,
  other: Pencil,
  width: number,
  height: number,
  radius: number,
): PencilPair | undefined {
  const side = Math.max(width, height) / CELLS;
  const across = Math.ceil(width / side);
  const down = Math.ceil(height / side);
  const cellOf = (x: number, y: number) =>
    Math.max(0, Math.min(down - 1, Math.floor((y * radius + height / 2) / side))) * across +
    Math.max(0, Math.min(across - 1, Math.floor((x * radius + width / 2) / side)));
  let pencils: [Pencil, Pencil] = [one, other];
  let members: [Voter[], Voter[]] = [[], []];
  let support = 0;
  for (const tolerance of [TOLERANCE, 0.7 * TOLERANCE]) {
    members = [0, 1].map((f) =>
      voters.filter((voter) => misfit(voter, pencils[f]) < tolerance),
    ) as typeof members;
    const density = members.map((family) => {
      const cells = new Float64Array(across * down);
      // Along the whole segment: a line across the board is one segment.
      for (const voter of family) {
        eachPlace(voter, PLACE_PX / radius, (x, y, weight) => {
          cells[cellOf(x, y)] += weight;
        });
      }
      return blurCells(cells, across, down);
    });
    support = 0;
    for (let c = 0; c < across * down; c++) support += Math.min(density[0][c], density[1][c]);
    if (support === 0) return undefined;
    members = members.map((family, f) => {
      const opposite = density[1 - f];
      const full = Math.max(...opposite) / 2;
      return family.map((voter) => {
        let weight = 0;
        eachPlace(voter, PLACE_PX / radius, (x, y, part) => {
          weight += part * Math.min(1, opposite[cellOf(x, y)] / full) ** 2;
        });
        return { ...voter, weight };
      });
    }) as typeof members;
    pencils = [0, 1].map((f) => improvePencil(members[f], pencils[f], tolerance)) as [
      Pencil,
      Pencil,
    ];
  }
  if (!crossWell(members, pencils)) return undefined;
  const places = members.map((family) => placesOf(family, PLACE_PX / radius)) as [
    Float64Array,
    Float64Array,
  ];
  const boldness = members.map((family) => boldnessOf(family, PLACE_PX / radius)) as [
    Float64Array,
    Float64Array,
  ];
  return { first: pencils[0], second: pencils[1], kappa: 0, support, places, boldness };
}

/** Families of a grid seen within 60° of square-on cross at 30° or more where they are. */
function crossWell(members: readonly Voter[][], pencils: readonly Pencil[]): boolean {
  let x = 0;
  let y = 0;
  let sum = 0;
  for (const voter of [...members[0], ...members[1]]) {
    x += voter.weight * voter.x;
    y += voter.weight * voter.y;
    sum += voter.weight;
  }
  if (sum === 0) return false;
  const [a, b] = pencils.map((pencil) => {
    const dx = Math.cos(pencil.theta) - (pencil.w * x) / sum;
    const dy = Math.sin(pencil.theta) - (pencil.w * y) / sum;
    const length = Math.hypot(dx, dy);
    return [dx / length, dy / length];
  });
  return Math.abs(a[0] * b[1] - a[1] * b[0]) > 0.45;
}

function blurCells(cells: Float64Array, across: number, down: number): Float64Array {
  const out = new Float64Array(cells.length);
  for (let y = 0; y < down; y++) {
    for (let x = 0; x < across; x++) {
      for (let v = Math.max(0, y - 1); v <= Math.min(down - 1, y + 1); v++) {
        for (let u = Math.max(0, x - 1); u <= Math.min(across - 1, x + 1); u++) {
          out[y * across + x] += cells[v * across + u] / (u === x && v === y ? 1 : 2);
        }
      }
    }
  }
  return out;
}

function placesOf(family: readonly Voter[], step: number): Float64Array {
  const places: number[] = [];
  for (const voter of family) {
    eachPlace(voter, step, (x, y, weight) => places.push(x, y, weight));
  }
  return Float64Array.from(places);
}

function boldnessOf(family: readonly Voter[], step: number): Float64Array {
  const all: number[] = [];
  for (const voter of family) eachPlace(voter, step, () => all.push(voter.boldness));
  return Float64Array.from(all);
}

/** Visits places evenly along a segment, its weight shared among them. */
function eachPlace(
  voter: Voter,
  step: number,
  visit: (x: number, y: number, weight: number) => void,
): void {
  const n = Math.max(2, Math.round((2 * voter.half) / step));
  for (let k = 0; k < n; k++) {
    const t = voter.half * ((2 * k + 1) / n - 1);
    visit(voter.x + t * voter.dx, voter.y + t * voter.dy, voter.weight / n);
  }
}
