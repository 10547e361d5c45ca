/** Where a commanded node lies in the grid, and from which side it was approached. */

import type { Approach } from '../../shared/stroke.js';
import type { GridLine } from '../program/index.js';
import type { Board } from './board.js';

/** A crossing, or another place that the program went to. */
export interface CommandedNode {
  readonly xMm: number;
  readonly yMm: number;
  /** Sense of the last motion before the mark, where somebody says it. */
  readonly approachX?: Approach;
  readonly approachY?: Approach;
}

export interface NodeFinder {
  /** Where the grid lies, in words. */
  readonly extent: string;
  isOutside(node: CommandedNode): boolean;
  /** As is said, else as the program marked the line there; 0 where both halves meet or nothing is known. */
  approach(node: CommandedNode, axis: 'x' | 'y'): Approach;
}

/** Commanded positions that differ by less are one line, mm: rounding of inches. */
export const SAME_PLACE_MM = 0.01;

export function makeNodeFinder({ grid, strokes }: Board): NodeFinder {
  const { linesAtX, linesAtY, repeated } = grid;
  const span = (lines: readonly GridLine[]) => {
    const [from, to] = [lines[0]!.positionMm, lines.at(-1)!.positionMm];
    return { from, to, gap: (to - from) / (lines.length - 1) };
  };
  const [x, y] = [span(linesAtX), span(linesAtY)];
  const isBeyond = (at: number, { from, to, gap }: typeof x) => at < from - gap || at > to + gap;
  const again = new Set([...repeated.x, ...repeated.y]);
  const byId = new Map(strokes.map((stroke) => [stroke.id, stroke]));
  return {
    extent: `which goes from (${x.from}, ${y.from}) to (${x.to}, ${y.to}) mm`,
    isOutside: (node) => isBeyond(node.xMm, x) || isBeyond(node.yMm, y),
    approach(node, axis) {
      const stated = axis === 'x' ? node.approachX : node.approachY;
      if (stated !== undefined) return stated;
      const index = lineOf(grid, node, axis);
      if (index === undefined) return 0;
      const own = (axis === 'x' ? linesAtX : linesAtY)[index]!;
      const along = axis === 'x' ? 1 : 0;
      const at = axis === 'x' ? node.yMm : node.xMm;
      const senses = new Set(
        own.strokes.flatMap((id) => {
          const stroke = byId.get(id);
          if (stroke === undefined || again.has(id)) return [];
          const ends = [stroke.fromMm[along], stroke.toMm[along]];
          const isThere =
            at >= Math.min(...ends) - SAME_PLACE_MM && at <= Math.max(...ends) + SAME_PLACE_MM;
          return isThere ? [axis === 'x' ? stroke.approachX : stroke.approachY] : [];
        }),
      );
      return senses.size === 1 ? [...senses][0]! : 0;
    },
  };
}

/** Index of the line on which a node lies; undefined: between the lines. */
export function lineOf(
  { linesAtX, linesAtY }: Board['grid'],
  node: CommandedNode,
  axis: 'x' | 'y',
): number | undefined {
  const [lines, at] = axis === 'x' ? [linesAtX, node.xMm] : [linesAtY, node.yMm];
  const index = lines.findIndex(({ positionMm }) => Math.abs(positionMm - at) <= SAME_PLACE_MM);
  return index < 0 ? undefined : index;
}
