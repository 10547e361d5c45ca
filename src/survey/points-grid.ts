/** The grid that points themselves form, where no program is given. */

import type { PlacementRecord } from '../../shared/schemas/measurement.js';
import type { GridLine } from '../program/index.js';
import { type CommandedNode, SAME_PLACE_MM } from './find-nodes.js';
import type { Placed } from './read-placement.js';

/** A file of points, of whatever kind. */
export interface NodesFile {
  readonly name: string;
  readonly nodes: readonly CommandedNode[];
}

/** Nodes at one commanded X form a line, as do nodes at one Y; lone nodes lie between the lines. */
export function gridOfPoints(files: readonly NodesFile[]): Placed {
  const nodes = files.flatMap((file) => file.nodes);
  const linesAtX = findLines(nodes, ({ xMm, yMm }) => [xMm, yMm]);
  const linesAtY = findLines(nodes, ({ xMm, yMm }) => [yMm, xMm]);
  const positions = (lines: readonly GridLine[]) => lines.map(({ positionMm }) => positionMm);
  const both = (approach: 'approachX' | 'approachY') =>
    [1, -1].every((sense) => nodes.some((node) => node[approach] === sense));
  const record: PlacementRecord = {
    program: files.map(({ name }) => name).join(', '),
    rotation: { value: 0, u: 0 },
    shift: { x: { value: 0, u: 0 }, y: { value: 0, u: 0 } },
    linesAtX: positions(linesAtX),
    linesAtY: positions(linesAtY),
    strokes: 0,
    bothApproaches: { x: both('approachX'), y: both('approachY') },
  };
  return {
    board: {
      name: record.program,
      strokes: [],
      grid: {
        linesAtX,
        linesAtY,
        rungsAtX: [],
        rungsAtY: [],
        repeated: { x: [], y: [] },
        otherStrokes: [],
      },
      segments: [],
    },
    record,
    findings: [],
  };
}

function findLines(
  nodes: readonly CommandedNode[],
  placeOf: (node: CommandedNode) => readonly [across: number, along: number],
): GridLine[] {
  const places = nodes.map(placeOf).sort(([a], [b]) => a - b);
  const groups: (readonly [number, number])[][] = [];
  for (const place of places) {
    const last = groups.at(-1);
    if (last !== undefined && place[0] - last[0]![0] <= SAME_PLACE_MM) last.push(place);
    else groups.push([place]);
  }
  // One node that is seen again, as in several photos, makes no line.
  const lines = groups.filter(([first, ...others]) =>
    others.some(([, along]) => Math.abs(along - first![1]) > SAME_PLACE_MM),
  );
  // A cloud of nodes, no two in line: its ends bound the travel.
  const chosen = lines.length > 1 ? lines : [groups[0]!, groups.at(-1)!];
  return chosen.map((group) => ({
    positionMm: group[0]![0],
    strokes: [],
    fromMm: group.reduce((least, [, along]) => Math.min(least, along), Number.POSITIVE_INFINITY),
    toMm: group.reduce((most, [, along]) => Math.max(most, along), Number.NEGATIVE_INFINITY),
  }));
}
