/** Measured nodes → marks of the adjustment that were seen without a photo. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { LineObservation, NetworkPlacement, NetworkSegment } from '../network/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import type { Board } from './board.js';
import { lineOf, makeNodeFinder } from './find-nodes.js';
import type { MeasuredNode, PointsFile } from './read-points.js';
import type { Stretch } from './thermal-expansion.js';

/** A mark of the adjustment that was measured on the board. */
export interface OnBoardObservation extends Omit<LineObservation, 'photo'> {
  /** Index into the list of files, and the line of the file. */
  readonly file: number;
  readonly sourceLine: number;
}

/** What all files add to the adjustment; indices count from 0 within these lists. */
export interface PointsOnBoard {
  readonly placements: readonly NetworkPlacement[];
  readonly segments: readonly NetworkSegment[];
  readonly observations: readonly OnBoardObservation[];
}

export const NO_POINTS: PointsOnBoard = { placements: [], segments: [], observations: [] };

/** A ratio this close to 25.4 or its inverse is a mix of units, not a machine. */
const UNIT_MIX_TOLERANCE = 0.05;
/** No machine that still marks a grid leaves more of the grid's size than this. */
const IMPLAUSIBLE = 0.02;
/** Fewer leave the turn of a frame open. */
const FEWEST_NODES = 2;
/** Another sense of turning is meant where it fits so many times better. */
const CLEARLY = 3;

/**
 * Every file has a frame of its own for each position of the board: where it lies against the program is
 * unknown and says nothing of the machine.
 *
 * @param board whose lines the adjustment knows.
 * @param program what marked the nodes: their extent and how they were approached.
 * @param instrument true length over length read.
 * Fails: POINTS_INVALID; UNITS_SUSPECT.
 */
export function placePoints(
  files: readonly PointsFile[],
  board: Board,
  program: Board,
  instrument: Stretch,
): Outcome<PointsOnBoard> {
  const placements: NetworkPlacement[] = [];
  const segments: NetworkSegment[] = [];
  const observations: OnBoardObservation[] = [];
  const find = makeNodeFinder(program);
  for (const [file, { name, nodes }] of files.entries()) {
    const outside = nodes.find((node) => find.isOutside(node));
    if (outside !== undefined) {
      return failed(
        'POINTS_INVALID',
        `line ${outside.sourceLine}: (${outside.xMm}, ${outside.yMm}) lies outside the grid, ${find.extent}`,
        { where: name, hint: 'give commanded positions of this program in x and y, in mm' },
      );
    }
    for (const own of new Set(nodes.map((node) => node.placement))) {
      const group = nodes.filter((node) => node.placement === own);
      if (group.length < FEWEST_NODES) {
        return failed('POINTS_INVALID', `placement ${own} has ${group.length} node only`, {
          where: name,
          hint: `turn and shift of a position of the board need ${FEWEST_NODES} nodes at least; leave the placement out`,
        });
      }
      const start = startFrame(group, name, instrument.factor);
      if (!start.ok) return start;
      const placement = placements.push({ ...start.value, instrumentScaleU: instrument.u }) - 1;
      const { rotationRad } = start.value;
      const known = new Map<string, number>();
      for (const node of group) {
        const [X, Y] = node.measuredMm.map((value) => value * instrument.factor);
        for (const axis of ['x', 'y'] as const) {
          const approach = find.approach(node, axis);
          // One mark measured again wanders no more than once.
          const key = `${axis} ${node.xMm} ${node.yMm} ${approach}`;
          let segment = known.get(key);
          if (segment === undefined) {
            const { xMm, yMm } = node;
            const line = lineOf(board.grid, node, axis);
            segment = segments.push({ placement, axis, line, xMm, yMm, approach }) - 1;
            known.set(key, segment);
          }
          const turn = axis === 'x' ? rotationRad : rotationRad + Math.PI / 2;
          observations.push({
            file,
            sourceLine: node.sourceLine,
            segment,
            uPx: X,
            vPx: Y,
            normalU: Math.cos(turn),
            normalV: Math.sin(turn),
            sigmaPx: node.uMm * instrument.factor,
          });
        }
      }
    }
  }
  return success({ placements, segments, observations });
}

/** Turn and shift of the measured frame against the commanded one, by a similarity of least squares. */
function startFrame(
  nodes: readonly MeasuredNode[],
  name: string,
  factor: number,
): Outcome<Pick<NetworkPlacement, 'rotationRad' | 'shiftMm'>> {
  const straight = fitSimilarity(nodes, 1, factor);
  const mirrored = fitSimilarity(nodes, -1, factor);
  for (const mix of [MM_PER_INCH, 1 / MM_PER_INCH]) {
    const { scale } = mirrored.rms < straight.rms ? mirrored : straight;
    if (Math.abs(scale / mix - 1) > UNIT_MIX_TOLERANCE) continue;
    return failed(
      'UNITS_SUSPECT',
      `the measured positions lie ${scale.toFixed(4)} times as far apart as the commanded ones: mm and inch are mixed`,
      {
        where: name,
        hint: 'give x, y, X, Y and u in mm; check G20 or G21 in the program',
        figures: { ratio: scale },
      },
    );
  }
  if (straight.rms > CLEARLY * mirrored.rms && straight.rms > IMPLAUSIBLE * straight.sizeMm) {
    return failed('POINTS_INVALID', 'the measured frame is mirrored against the commanded one', {
      where: name,
      hint: 'X and Y must turn the same way as x and y: look for a Y that counts downward, or for X and Y swapped',
    });
  }
  if (straight.rms > IMPLAUSIBLE * straight.sizeMm || Math.abs(straight.scale - 1) > IMPLAUSIBLE) {
    return failed(
      'POINTS_INVALID',
      `the measured positions do not follow the commanded ones: ${straight.rms.toFixed(2)} mm are left (root mean square), at a scale of ${straight.scale.toFixed(4)}`,
      {
        where: name,
        hint: 'check that every line joins a commanded node and its own measured place, in mm',
      },
    );
  }
  return success({ rotationRad: straight.rotationRad, shiftMm: straight.shiftMm });
}

/** @param sense 1: as it is; -1: commanded Y turned over. */
function fitSimilarity(nodes: readonly MeasuredNode[], sense: 1 | -1, factor: number) {
  const n = nodes.length;
  const mean = (value: (node: MeasuredNode) => number) =>
    nodes.reduce((sum, node) => sum + value(node), 0) / n;
  const from = [mean(({ xMm }) => xMm), mean(({ yMm }) => sense * yMm)];
  const to = [0, 1].map((k) => factor * mean(({ measuredMm }) => measuredMm[k]!));
  let [along, across, square, target] = [0, 0, 0, 0];
  for (const { xMm, yMm, measuredMm } of nodes) {
    const [x, y] = [xMm - from[0]!, sense * yMm - from[1]!];
    const [X, Y] = [factor * measuredMm[0] - to[0]!, factor * measuredMm[1] - to[1]!];
    along += x * X + y * Y;
    across += x * Y - y * X;
    square += x * x + y * y;
    target += X * X + Y * Y;
  }
  // One node by itself, or all at one place, fix no turn.
  const length = Math.hypot(along, across);
  const scale = square > 0 ? length / square : 1;
  const rotationRad = Math.atan2(across, along);
  const [cos, sin] = [Math.cos(rotationRad), Math.sin(rotationRad)];
  const rest = Math.max(0, target - (square > 0 ? length ** 2 / square : 0));
  return {
    scale,
    rotationRad,
    shiftMm: [
      to[0]! - (cos * from[0]! - sin * from[1]!),
      to[1]! - (sin * from[0]! + cos * from[1]!),
    ] as const,
    rms: Math.sqrt(rest / n),
    sizeMm: Math.sqrt(square / n),
  };
}
