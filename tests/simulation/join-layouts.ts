/** The lines of several placements' programs as those of one machine. */

import type { MachineLayout } from '../../src/machine/index.js';

export interface JoinedLayout {
  readonly layout: MachineLayout;
  /**
   * For each placement, what a segment's `line` of its own layout (a line, or behind the lines a rung) is in
   * the joint one.
   */
  readonly lineOf: readonly ((axis: 'x' | 'y', line: number) => number)[];
}

/** Commanded positions closer than this are the same place of the machine, mm: no program says less. */
const SAME_PLACE_MM = 1e-4;

/**
 * Joins them: programs half a pitch apart meet the machine at different places, programs that are alike at
 * the same. Gantry and periods are those of the first.
 */
export function joinLayouts(layouts: readonly [MachineLayout, ...MachineLayout[]]): JoinedLayout {
  const linesAtX = joinPlaces(layouts.map((one) => one.linesAtX));
  const linesAtY = joinPlaces(layouts.map((one) => one.linesAtY));
  const rungsAtX = joinPlaces(layouts.map((one) => one.rungsAtX ?? []));
  const rungsAtY = joinPlaces(layouts.map((one) => one.rungsAtY ?? []));
  return {
    layout: { ...layouts[0], linesAtX, linesAtY, rungsAtX, rungsAtY },
    lineOf: layouts.map((one) => (axis, line) => {
      const [own, ownRungs, lines, rungs] =
        axis === 'x'
          ? [one.linesAtX, one.rungsAtX ?? [], linesAtX, rungsAtX]
          : [one.linesAtY, one.rungsAtY ?? [], linesAtY, rungsAtY];
      return line < own.length
        ? indexOfPlace(lines, own[line])
        : lines.length + indexOfPlace(rungs, ownRungs[line - own.length]);
    }),
  };
}

function joinPlaces(lists: readonly (readonly number[])[]): number[] {
  const sorted = lists.flat().sort((a, b) => a - b);
  return sorted.filter((place, i) => i === 0 || place - sorted[i - 1] > SAME_PLACE_MM);
}

function indexOfPlace(places: readonly number[], place: number): number {
  let nearest = 0;
  places.forEach((at, i) => {
    if (Math.abs(at - place) < Math.abs(places[nearest] - place)) nearest = i;
  });
  return nearest;
}
