/** A simulated machine that is measured and then runs programs, compensated or not. */

import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { landedPosition, type MachineErrors } from '../../samples/index.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { type Motion, traceProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { survey } from '../../src/survey/index.js';

export type Place = readonly [x: number, y: number, z: number];

const SPACING_MM = 50;
export const LINES_X = Array.from({ length: 19 }, (_, i) => i * SPACING_MM);
export const LINES_Y = Array.from({ length: 13 }, (_, i) => i * SPACING_MM);

/** Everything that a gantry router can have, of sizes met in workshops. */
export const WORN_MACHINE: MachineErrors = {
  scaleX: 0.0009,
  scaleY: -0.0006,
  squarenessRad: 0.0011,
  lostMotionXMm: 0.06,
  lostMotionYMm: 0.12,
  lostMotionGradient: 0,
  positionX: {
    atMm: LINES_X,
    deviationMm: LINES_X.map((_, i) => 0.05 * Math.sin(1.7 * i)),
  },
  positionY: {
    atMm: LINES_Y,
    deviationMm: LINES_Y.map((_, i) => 0.04 * Math.cos(2.3 * i)),
  },
  straightnessX: { fromMm: 0, toMm: 900, legendre: [0, 0, 0.12, 0.05] },
  straightnessY: { fromMm: 0, toMm: 600, legendre: [0, 0, -0.08, 0, 0.03] },
  yaw: { fromMm: 0, toMm: 600, legendre: [0, 0.0002, 0.0001] },
  gantryAxis: 'y',
  drivesMiddleMm: 450,
};

/** Nodes measured otherwise, to 0.002 mm, without noise: what is left is the tool's own. */
export async function measureMachine(errors: MachineErrors): Promise<Measurement> {
  const rows = ['x,y,X,Y,u,dx,dy'];
  for (const x of LINES_X) {
    for (const y of LINES_Y) {
      for (const sense of [1, -1] as const) {
        const [landedX, landedY] = landedPosition(errors, x, y, sense, sense);
        rows.push(`${x},${y},${landedX.toFixed(5)},${landedY.toFixed(5)},0.002,${sense},${sense}`);
      }
    }
  }
  const folder = await mkdtemp(join(tmpdir(), 'gantrue-nodes-'));
  try {
    const file = join(folder, 'nodes.csv');
    await writeFile(file, rows.join('\n'));
    const surveyed = await survey(
      {
        photoFiles: [],
        markedBy: [],
        marking: 'auto',
        blockDelete: false,
        known: [],
        pointsFiles: [file],
        machine: { name: 'Simulated', gantryAxis: errors.gantryAxis },
      },
      { now: () => new Date('2026-03-01T12:00:00Z'), toolVersion: 'test' },
    );
    return unwrap(surveyed).measurement;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** Dense places along the cutting moves of a program, and at its holes; program coordinates, mm. */
export function cutPath(text: string, stepMm = 0.5): Place[] {
  const { lines } = unwrap(traceProgram('program', text, false));
  const places: Place[] = [];
  const motions = lines.flatMap((line) => line.motions);
  const datum = motions.find(({ to }) => to[0] !== undefined)?.conditions.place;
  const [x, y] = [datum?.offsetX ?? 0, datum?.offsetY ?? 0];
  for (const motion of motions) {
    const { kind, from, to } = motion;
    const inWords = (p: readonly number[]): Place => [p[0]! - x, p[1]! - y, p[2] ?? 0];
    if (kind === 'cycle') places.push(inWords([to[0]!, to[1]!, 0]));
    if ((kind !== 'feed' && kind !== 'arc') || from[0] === undefined || from[1] === undefined) {
      continue;
    }
    places.push(...along(motion, stepMm).map(inWords));
  }
  return places;
}

/** How far an arc may bulge over the chord between two places. */
const BULGE_MM = 3e-4;

/** @param stepMm of places; their number is at least two. */
function along({ from, to, shape }: Motion, stepMm: number): number[][] {
  const [start, end] = [from, to].map(([x, y, z]) => [x!, y!, z ?? 0]) as [number[], number[]];
  const span = [0, 1, 2].map((k) => end[k]! - start[k]!);
  if (shape?.kind !== 'arc') {
    const count = Math.max(1, Math.ceil(Math.hypot(...span) / stepMm));
    return Array.from({ length: count + 1 }, (_, i) =>
      start.map((value, k) => value + (i / count) * span[k]!),
    );
  }
  const { axes, centreMm, sweepRad, radiusMm } = shape;
  const chordMm = Math.min(stepMm, Math.sqrt(8 * radiusMm * BULGE_MM));
  const count = Math.max(8, Math.ceil((Math.abs(sweepRad) * radiusMm) / chordMm));
  const begin = Math.atan2(start[axes[1]]! - centreMm[1], start[axes[0]]! - centreMm[0]);
  return Array.from({ length: count + 1 }, (_, i) => {
    const place = start.map((value, k) => value + (i / count) * span[k]!);
    const angle = begin + (i / count) * sweepRad;
    place[axes[0]] = centreMm[0] + radiusMm * Math.cos(angle);
    place[axes[1]] = centreMm[1] + radiusMm * Math.sin(angle);
    return place;
  });
}

/** How a path of commands lands, midway in the lost motion, on the machine with these errors. */
export function runOnMachine(
  errors: MachineErrors,
  path: readonly Place[],
  zero: readonly [number, number] = [0, 0],
): Place[] {
  return path.map(([x, y, z]) => [...landedPosition(errors, x + zero[0], y + zero[1], 0, 0), z]);
}

/**
 * Where a path is to land: its own shape, from where the zero lands, along the mean true direction of X
 * travel, which is the datum of every measurement.
 */
export function wantedOnBoard(
  errors: MachineErrors,
  path: readonly Place[],
  zero: readonly [number, number] = [0, 0],
): Place[] {
  const [zeroX, zeroY] = landedPosition(errors, zero[0], zero[1], 0, 0);
  const turn = meanDirection(errors);
  return path.map(([x, y, z]) => [zeroX + x - turn * y, zeroY + y + turn * x, z]);
}

/** Least-squares slope of where the lines at constant Y land, rad; their mean over the grid. */
function meanDirection(errors: MachineErrors): number {
  const slopes = LINES_Y.map((y) => {
    const landed = LINES_X.map((x) => landedPosition(errors, x, y, 0, 0));
    const meanX = mean(landed.map(([x]) => x));
    const meanY = mean(landed.map(([, y]) => y));
    const square = landed.reduce((sum, [x]) => sum + (x - meanX) ** 2, 0);
    return landed.reduce((sum, [x, y]) => sum + (x - meanX) * (y - meanY), 0) / square;
  });
  return mean(slopes);
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Largest distance from a place of either path to the other path, mm. */
export function largestDeparture(one: readonly Place[], other: readonly Place[]): number {
  return Math.max(departure(one, other), departure(other, one));
}

const CELL_MM = 4;
/** Places farther apart belong to two moves. */
const LONGEST_PIECE_MM = 2.5;

/** Largest distance of places from the pieces between the places of a path. */
function departure(places: readonly Place[], path: readonly Place[]): number {
  const cells = new Map<string, number[]>();
  const keyOf = (x: number, y: number) => `${Math.floor(x / CELL_MM)} ${Math.floor(y / CELL_MM)}`;
  path.forEach(([x, y], k) => {
    const key = keyOf(x, y);
    const list = cells.get(key);
    if (list === undefined) cells.set(key, [k]);
    else list.push(k);
  });
  let largest = 0;
  for (const place of places) {
    let nearest = Number.POSITIVE_INFINITY;
    for (const dx of [-CELL_MM, 0, CELL_MM]) {
      for (const dy of [-CELL_MM, 0, CELL_MM]) {
        for (const k of cells.get(keyOf(place[0] + dx, place[1] + dy)) ?? []) {
          for (const next of [k - 1, k + 1]) {
            const end = path[next];
            if (end !== undefined && distance(path[k]!, end) > LONGEST_PIECE_MM) continue;
            nearest = Math.min(nearest, distanceToPiece(place, path[k]!, end ?? path[k]!));
          }
          nearest = Math.min(nearest, distance(place, path[k]!));
        }
      }
    }
    largest = Math.max(largest, nearest);
  }
  return largest;
}

function distance(a: Place, b: Place): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

function distanceToPiece(place: Place, from: Place, to: Place): number {
  const along = from.map((value, k) => to[k]! - value);
  const away = from.map((value, k) => place[k]! - value);
  const square = along.reduce((sum, value) => sum + value ** 2, 0);
  const product = along.reduce((sum, value, k) => sum + value * away[k]!, 0);
  const share = square === 0 ? 0 : Math.min(1, Math.max(0, product / square));
  return Math.hypot(...away.map((value, k) => value - share * along[k]!));
}
