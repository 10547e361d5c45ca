/** Where the commanded nodes really lie: everything that was measured, put together. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { middlesOf } from '../correction/index.js';
import { interpolate, lineThrough } from '../numerics/index.js';

export interface TrueNode {
  /** Commanded, mm. */
  readonly xMm: number;
  readonly yMm: number;
  /** Actual minus commanded, middle of both approaches, mm; the middle of the grid stays. */
  readonly dxMm: number;
  readonly dyMm: number;
}

export interface TrueGrid {
  readonly nodes: readonly TrueNode[];
  readonly columns: number;
  readonly rows: number;
  /** What is not in it because nothing tells it. */
  readonly missing: readonly string[];
  /** What is in it though only weakly known. */
  readonly weak: readonly string[];
}

type Told = Pick<
  Measurement,
  | 'squareness'
  | 'scale'
  | 'straightness'
  | 'straightnessCurve'
  | 'racking'
  | 'gantryAxis'
  | 'deviations'
  | 'placements'
>;

/** More lines than these each way are thinned evenly: nobody sees them apart. */
const MOST_LINES = 15;

/**
 * With scales that nobody knows, the grid is drawn as large as it was commanded; with weak ones as they were found.
 * Lines between which a grid has been measured, first program.
 *
 * @returns undefined where no deviations were found.
 */
export function trueGrid(measurement: Told): TrueGrid | undefined {
  const { squareness, scale, straightness, straightnessCurve, racking, gantryAxis } = measurement;
  const [first] = measurement.placements;
  if (first === undefined || measurement.deviations.length === 0) return undefined;
  const xs = thinned(first.linesAtX);
  const ys = thinned(first.linesAtY);
  if (xs.length < 2 || ys.length < 2) return undefined;
  const missing: string[] = [];
  const weak: string[] = [];
  const known = <T extends { readonly state: string }>(name: string, quantity: T) => {
    if (quantity.state === 'weak') weak.push(name);
    if (quantity.state !== 'undetermined') return true;
    missing.push(name);
    return false;
  };
  const lean = known('squareness', squareness) && 'value' in squareness ? squareness.value : 0;
  const alongX = positions(measurement, 'x', known('scale X', scale.x));
  const alongY = positions(measurement, 'y', known('scale Y', scale.y));
  const bendOfX = known('straightness X', straightness.x) ? (straightnessCurve?.x ?? []) : [];
  const bendOfY = known('straightness Y', straightness.y) ? (straightnessCurve?.y ?? []) : [];
  const yaw = gantryAxis !== 'none' && known('racking', racking) ? (racking.curve ?? []) : [];
  const [xm, ym] = [middle(xs), middle(ys)];
  const nodes = ys.flatMap((y) =>
    xs.map((x): TrueNode => {
      const turn = interpolate(yaw, gantryAxis === 'x' ? x : y);
      return {
        xMm: x,
        yMm: y,
        dxMm:
          alongX(x) +
          lean * (y - ym) +
          interpolate(bendOfY, y) -
          (gantryAxis === 'x' ? (y - ym) * turn : 0),
        dyMm: alongY(y) + interpolate(bendOfX, x) + (gantryAxis === 'y' ? (x - xm) * turn : 0),
      };
    }),
  );
  return { nodes, columns: xs.length, rows: ys.length, missing, weak };
}

/** Deviation of the axis' lines, both approaches averaged; without their slope where the scale is not known. */
function positions(
  { deviations }: Told,
  axis: 'x' | 'y',
  isScaleKnown: boolean,
): (place: number) => number {
  const points = middlesOf(deviations.filter((one) => one.axis === axis));
  if (points.length < 2) return () => 0;
  const { middle: centre, mean, slope: fitted } = lineThrough(points);
  const slope = isScaleKnown ? 0 : fitted;
  return (place) => interpolate(points, place) - mean - slope * (place - centre);
}

function middle(list: readonly number[]): number {
  return (list[0]! + list[list.length - 1]!) / 2;
}

function thinned(lines: readonly number[]): number[] {
  const sorted = [...lines].sort((a, b) => a - b);
  const step = Math.ceil((sorted.length - 1) / (MOST_LINES - 1));
  if (step < 2) return sorted;
  // Every second, third … line, so that gaps stay alike; the last one always, in place of a near one.
  const kept = sorted.filter((_, k) => k % step === 0 && sorted.length - 1 - k >= step / 2);
  return [...kept, sorted[sorted.length - 1]!];
}
